package broker

import (
	"crypto/sha256"
	"crypto/subtle"
	"strings"

	"golang.org/x/crypto/bcrypt"

	"weighbeam/ingest"
)

// accounts are the devices by user; none means that anyone may do anything, which
// Config allows on loopback only.
type accounts map[string]Device

func newAccounts(devices []Device) accounts {
	a := accounts{}
	for _, d := range devices {
		a[d.User] = d
	}
	return a
}

// admit checks a login.
func (a accounts) admit(user string, password []byte) bool {
	if len(a) == 0 {
		return true
	}
	d, known := a[user]
	if strings.HasPrefix(d.Password, "$2") {
		return bcrypt.CompareHashAndPassword([]byte(d.Password), password) == nil
	}
	// Hashed first, so that the time taken tells nothing of either length.
	want, got := sha256.Sum256([]byte(d.Password)), sha256.Sum256(password)
	return subtle.ConstantTimeCompare(want[:], got[:]) == 1 && known
}

// may reports whether user may publish to a topic, or subscribe to a filter. A
// filter with wildcards is allowed only as it stands in the configuration.
func (a accounts) may(user, topic string, write bool) bool {
	if len(a) == 0 {
		return true
	}
	for _, f := range a[user].Topics {
		if f == topic || (write || !strings.ContainsAny(topic, "+#")) && ingest.Match(f, topic) {
			return true
		}
	}
	return false
}
