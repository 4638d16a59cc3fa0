// Package pushtest is a push service and browsers on loopback, for tests: it opens
// what was sent as a browser does, and checks who sent it as a push service does.
package pushtest

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/ecdh"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"math/big"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify/internal/catcher"
)

// Browser holds the secrets that a browser keeps of its subscription.
type Browser struct {
	Key  *ecdh.PrivateKey
	Auth []byte
}

// NewBrowser makes one with keys of its own.
func NewBrowser(t testing.TB) Browser {
	t.Helper()
	key, err := ecdh.P256().GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	auth := make([]byte, 16)
	_, _ = rand.Read(auth) // never fails
	return Browser{key, auth}
}

// Subscription is what the browser tells the page.
func (b Browser) Subscription(endpoint, channel string) home.Subscription {
	return home.Subscription{Endpoint: endpoint, Channel: channel, Added: time.Unix(1_700_000_000, 0).UTC(),
		Key: base64.RawURLEncoding.EncodeToString(b.Key.PublicKey().Bytes()), Auth: base64.RawURLEncoding.EncodeToString(b.Auth)}
}

// Open decrypts a body as a browser does: one record of RFC 8188, with the keys
// of RFC 8291, section 3.4.
func (b Browser) Open(body []byte) (string, error) {
	if len(body) < 86 || body[20] != 65 {
		return "", errors.New("no header of one record with a key")
	}
	salt, sender, sealed := body[:16], body[21:86], body[86:]
	public, err := ecdh.P256().NewPublicKey(sender)
	if err != nil {
		return "", err
	}
	shared, err := b.Key.ECDH(public)
	if err != nil {
		return "", err
	}
	info := slices.Concat([]byte("WebPush: info\x00"), b.Key.PublicKey().Bytes(), sender)
	ikm, err := hkdf.Key(sha256.New, shared, b.Auth, string(info), 32)
	if err != nil {
		return "", err
	}
	key, err := hkdf.Key(sha256.New, ikm, salt, "Content-Encoding: aes128gcm\x00", 16)
	if err != nil {
		return "", err
	}
	nonce, err := hkdf.Key(sha256.New, ikm, salt, "Content-Encoding: nonce\x00", 12)
	if err != nil {
		return "", err
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return "", err
	}
	gcm, err := cipher.NewGCM(block)
	if err != nil {
		return "", err
	}
	text, err := gcm.Open(nil, nonce, sealed, nil)
	if err != nil {
		return "", err
	}
	plain, ok := strings.CutSuffix(strings.TrimRight(string(text), "\x00"), "\x02")
	if !ok {
		return "", errors.New("it is not the last record")
	}
	return plain, nil
}

// Claims checks the sender's proof as a push service does (RFC 8292, section 2)
// and returns what is claimed.
func Claims(header, public string) (claims map[string]any, err error) {
	token, key, ok := strings.Cut(strings.TrimPrefix(header, "vapid t="), ", k=")
	parts := strings.Split(token, ".")
	if !ok || key != public || len(parts) != 3 {
		return nil, errors.New("no token of this house")
	}
	point, err := base64.RawURLEncoding.DecodeString(key)
	if err != nil || len(point) != 65 {
		return nil, errors.New("no public key")
	}
	signature, err := base64.RawURLEncoding.DecodeString(parts[2])
	if err != nil || len(signature) != 64 {
		return nil, errors.New("no signature of ES256")
	}
	whose, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), point)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	if !ecdsa.Verify(whose, sum[:], new(big.Int).SetBytes(signature[:32]), new(big.Int).SetBytes(signature[32:])) {
		return nil, errors.New("the signature is of somebody else")
	}
	text, err := base64.RawURLEncoding.DecodeString(parts[1])
	if err != nil {
		return nil, err
	}
	return claims, json.Unmarshal(text, &claims)
}

// Service is a push service on loopback, over TLS, that keeps what it takes.
type Service struct{ *catcher.Server }

// Serve starts a service that answers with answer; it ends with the test.
func Serve(t testing.TB, answer http.HandlerFunc) Service {
	return Service{catcher.ServeTLS(t, answer)}
}

// Host is the host and port of the service.
func (s Service) Host() string { return strings.TrimPrefix(s.URL, "https://") }

// Created answers as a push service does that took a message.
func Created(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusCreated) }
