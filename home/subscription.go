package home

import (
	"crypto/ecdh"
	"encoding/base64"
	"fmt"
	"net/url"
	"time"
)

// Subscription is a browser that wants to be told: where its push service takes
// messages for it (RFC 8030), and the keys that they are encrypted with (RFC 8291).
type Subscription struct {
	Endpoint string // unique; whoever knows it can send to the browser's push service
	Channel  string // whose browser it is: a name of the configuration
	Key      string // public key of the browser, P-256, base64url
	Auth     string // its authentication secret, 16 bytes, base64url
	Added    time.Time
}

// Valid returns nil if s can be stored and used, or what is wrong with it,
// without quoting it.
func (s Subscription) Valid() error {
	u, err := url.Parse(s.Endpoint)
	switch {
	case err != nil || u.Scheme != "https" || u.Host == "" || u.User != nil || len(s.Endpoint) > 2000:
		return fmt.Errorf("a subscription needs the https address of a push service")
	case s.Added.IsZero():
		return fmt.Errorf("a subscription needs a time")
	}
	if err := ValidID("channel", s.Channel); err != nil {
		return err
	}
	key, err := base64.RawURLEncoding.DecodeString(s.Key)
	if err == nil {
		_, err = ecdh.P256().NewPublicKey(key)
	}
	if err != nil {
		return fmt.Errorf("the key of a subscription is a point of P-256 in base64url")
	}
	if auth, err := base64.RawURLEncoding.DecodeString(s.Auth); err != nil || len(auth) != 16 {
		return fmt.Errorf("the secret of a subscription is 16 bytes in base64url")
	}
	return nil
}
