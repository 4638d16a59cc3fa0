package door

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"sync"

	"github.com/alexedwards/argon2id"

	"weighbeam/home"
)

// cost is the second of the equal settings for Argon2id in the OWASP Password
// Storage Cheat Sheet: 19 MiB, 2 passes, 1 thread. It fits a small computer.
var cost = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// most bounds what a settings file may ask of the machine.
const most = 256 * 1024 // KiB

// MinPassword is how short a password may be (NIST SP 800-63B: at least 8
// characters where guessing is limited).
const MinPassword = 8

// Hash is what stands in the settings for a password.
func Hash(password string) (string, error) {
	if len([]rune(password)) < MinPassword {
		return "", home.Hinted("hash a password", "A few words that you make up are easy to remember and hard to guess.",
			"it is shorter than %d characters", MinPassword)
	}
	return argon2id.CreateHash(password, cost)
}

// ValidHash returns nil if text is a hash that [Hash] could have made.
func ValidHash(text string) error {
	p, _, _, err := argon2id.DecodeHash(text)
	if err != nil || p.Memory > most || p.Iterations > 20 {
		return home.Hinted("", "Make one with: weighbeam password.", "the password file holds no hash of a password (%s...)", text[:min(10, len(text))])
	}
	return nil
}

// one is held while a password is tried: each try takes 19 MiB, and many at once
// would take a small computer down.
var one sync.Mutex

// nobody is what the password of an unknown name is tried against, so that it
// takes as long as that of a known one.
var nobody = sync.OnceValue(func() string {
	hash, err := argon2id.CreateHash(rand.Text(), cost)
	if err != nil {
		panic("door: " + err.Error()) // the system has no randomness
	}
	return hash
})

// matches reports whether the password belongs to the hash, "" for that of nobody.
func matches(hash, password string) bool {
	known := hash != ""
	if !known {
		hash = nobody()
	}
	one.Lock()
	defer one.Unlock()
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	return err == nil && ok && known
}

// MakeToken makes a token for a device, and what stands for it in the settings.
// It has 128 bits from the system's randomness or more, so a fast hash is enough.
func MakeToken() (token, hash string) {
	token = strings.ToLower(rand.Text())
	sum := sha256.Sum256([]byte(token))
	return token, "sha256:" + hex.EncodeToString(sum[:])
}
