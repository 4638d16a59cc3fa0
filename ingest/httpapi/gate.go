package httpapi

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"strings"

	"weighbeam/home"
)

// minToken is how long a token must be: 16 characters from a random source are
// out of reach of guessing over a network.
const minToken = 16

// gate knows the devices by the hash of their token, so that looking one up takes
// as long whether it is known or not, and no token stays in memory.
type gate struct {
	devices map[[sha256.Size]byte]Device
}

func newGate(devices []Device) (gate, error) {
	g := gate{devices: map[[sha256.Size]byte]Device{}}
	for _, d := range devices {
		sum, ok := sumOf(d.Token)
		_, taken := g.devices[sum]
		switch {
		case d.Name == "" || !ok || taken:
			return g, home.Hinted("configure HTTP intake", fmt.Sprintf("Give each device a name and a token of its own, of at least %d characters.", minToken),
				"device %q has no usable token", d.Name)
		case len(d.Sources) == 0:
			return g, home.Hinted("configure HTTP intake", "Name the scales that it may send for.", "device %q has no sources", d.Name)
		}
		d.Token = ""
		g.devices[sum] = d
	}
	return g, nil
}

// hashed marks a token of which only the hash is known.
const hashed = "sha256:"

// sumOf is the hash of a token; false where it can be guessed or is no hash.
func sumOf(token string) (sum [sha256.Size]byte, ok bool) {
	text, isHash := strings.CutPrefix(token, hashed)
	if !isHash {
		return sha256.Sum256([]byte(token)), len(token) >= minToken
	}
	b, err := hex.DecodeString(text)
	return [sha256.Size]byte(append(b, make([]byte, sha256.Size)...)), err == nil && len(b) == sha256.Size
}

// admit finds out who is asking.
func (g gate) admit(r *http.Request) (Device, *answer) {
	if len(g.devices) == 0 {
		return Device{}, fromHere(r)
	}
	scheme, token, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	d, ok := g.devices[sha256.Sum256([]byte(strings.TrimSpace(token)))]
	if !ok || !strings.EqualFold(scheme, "Bearer") {
		a := refuse(http.StatusUnauthorized, "Send the device's token as Authorization: Bearer TOKEN.")
		a.header.Set("WWW-Authenticate", "Bearer")
		return Device{}, a
	}
	return d, nil
}

// fromHere lets in programs on the same machine. A browser that a web page made
// ask sends an Origin, and a name that was bent to loopback stands in Host: both are
// refused, since the page is not on this machine.
func fromHere(r *http.Request) *answer {
	if !home.Loopback(r.RemoteAddr) {
		return refuse(http.StatusForbidden, "No device has a token, so only programs on the same machine are heard.")
	}
	if r.Header.Get("Origin") != "" || !home.Loopback(r.Host) {
		return refuse(http.StatusForbidden, "Web pages may not post here.")
	}
	return nil
}
