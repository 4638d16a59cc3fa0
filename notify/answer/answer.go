// Package answer makes and reads the links by which a person answers a notice
// without a login.
//
// It guarantees: a link cannot be guessed or altered (HMAC-SHA256, cut to 128
// bits as RFC 2104, 5 allows), it is for one finding only, and it ends. That it
// works once is the store's part: an answer has the id of its link, and the
// store takes an id once. Whoever follows a link must be shown a page with a
// button first: mail programs follow links by themselves.
package answer

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

// Key signs links. Who has it can answer any notice.
type Key struct{ secret []byte }

// KeySize is the length of a key's secret in bytes.
const KeySize = 32

// NewKey returns the key of that secret, at least 16 bytes long.
func NewKey(secret []byte) (Key, error) {
	if len(secret) < 16 {
		return Key{}, home.Hinted("read the key of the answers", "Delete the file: a new key is made. Links sent before stop working.", "the key has %d bytes, it needs 16", len(secret))
	}
	return Key{append([]byte(nil), secret...)}, nil
}

// MakeSecret returns a new secret for NewKey, to be kept in a file.
func MakeSecret() []byte {
	b := make([]byte, KeySize)
	_, _ = rand.Read(b) // never fails: it ends the program instead (Go 1.24)
	return b
}

// String hides the secret.
func (k Key) String() string { return "(secret)" }

// GoString hides it from %#v.
func (k Key) GoString() string { return "(secret)" }

// Ticket is what a link stands for.
type Ticket struct {
	Finding string    // Finding.ID
	Channel string    // over which it was sent
	Expires time.Time // whole seconds
}

// ID is the same for the same ticket: an answer given with it has this id.
func (t Ticket) ID() string {
	sum := sha256.Sum256(t.bytes())
	return "link/" + hex.EncodeToString(sum[:16])
}

// bytes is t without ambiguity: a length goes before each text.
func (t Ticket) bytes() []byte {
	b := binary.BigEndian.AppendUint64([]byte{version}, uint64(t.Expires.Unix()))
	for _, s := range []string{t.Channel, t.Finding} {
		b = binary.BigEndian.AppendUint16(b, uint16(len(s)))
		b = append(b, s...)
	}
	return b
}

const (
	version = 1
	macSize = 16
	// longest is far above any ticket of ours: a longer token is not even decoded.
	longest = 1000
)

// Token is t, signed, in characters that a link can hold.
func (k Key) Token(t Ticket) string {
	b := t.bytes()
	return base64.RawURLEncoding.EncodeToString(append(b, k.mac(b)...))
}

func (k Key) mac(b []byte) []byte {
	h := hmac.New(sha256.New, k.secret)
	h.Write(b)
	return h.Sum(nil)[:macSize]
}

// The errors of Open.
var (
	ErrForged  = errors.New("the link is not from this house, or was cut")
	ErrExpired = errors.New("the link has expired: answer on the page of the finding")
)

// Open reads a token. It returns ErrForged or ErrExpired, wrapped, for one that
// does not count.
func (k Key) Open(token string, now time.Time) (Ticket, error) {
	if len(k.secret) == 0 || len(token) > longest {
		return Ticket{}, fmt.Errorf("read an answer: %w", ErrForged)
	}
	b, err := base64.RawURLEncoding.DecodeString(token)
	// The decoder overlooks line breaks and spare bits: one ticket, one token.
	if err != nil || base64.RawURLEncoding.EncodeToString(b) != token || len(b) < macSize || !hmac.Equal(b[len(b)-macSize:], k.mac(b[:len(b)-macSize])) {
		return Ticket{}, fmt.Errorf("read an answer: %w", ErrForged)
	}
	t, ok := parse(b[:len(b)-macSize])
	switch {
	case !ok:
		return Ticket{}, fmt.Errorf("read an answer: %w", ErrForged)
	case !now.Before(t.Expires):
		return Ticket{}, fmt.Errorf("read an answer: %w", ErrExpired)
	}
	return t, nil
}

// parse is the reverse of Ticket.bytes.
func parse(b []byte) (t Ticket, ok bool) {
	if len(b) < 9 || b[0] != version {
		return t, false
	}
	t.Expires = time.Unix(int64(binary.BigEndian.Uint64(b[1:])), 0).UTC()
	b = b[9:]
	for _, s := range []*string{&t.Channel, &t.Finding} {
		if len(b) < 2 || len(b) < 2+int(binary.BigEndian.Uint16(b)) {
			return t, false
		}
		n := 2 + int(binary.BigEndian.Uint16(b))
		*s, b = string(b[2:n]), b[n:]
	}
	return t, len(b) == 0
}

// Reaction is the answer given with t at now. until is the end of a snooze.
func (t Ticket) Reaction(kind home.ReactionKind, now, until time.Time, note string) (home.Reaction, error) {
	r := home.Reaction{ID: t.ID(), Finding: t.Finding, Kind: kind, At: now.UTC().Truncate(home.TimeStep), By: t.Channel, Note: note}
	if kind == home.Snoozed {
		r.Until = until.UTC().Truncate(home.TimeStep)
	}
	return r, r.Valid()
}
