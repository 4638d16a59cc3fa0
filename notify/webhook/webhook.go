// Package webhook hands a message to an HTTP address as signed JSON.
//
// It guarantees: the body is signed with HMAC-SHA256 (RFC 2104, FIPS 180-4) so
// that a receiver can tell that it comes from this house; the id is the same
// each time the same message is sent; a redirect is never followed, so nothing
// goes to an address that the keeper did not write down; and neither the address
// nor the key nor what the receiver answered ever appears in an error.
package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/internal/reply"
)

// The headers of a request.
const (
	IDHeader        = "Weighbeam-Id"        // the message's id: drop what you have seen
	TimeHeader      = "Weighbeam-Time"      // when it was sent, seconds since 1970
	SignatureHeader = "Weighbeam-Signature" // "sha256=" and the HMAC in hex, see Sign
)

// Config is where a message goes.
type Config struct {
	URL    notify.Secret            // http or https; it may hold a password or token
	Key    notify.Secret            // of the signature; "": not signed
	Header map[string]notify.Secret // further headers, as Authorization
	Body   string                   // template of the body for a service with a format of its own, see shape; "": the message as JSON
	Client *http.Client             // nil: the usual one
}

// Webhook is a [notify.Transport].
type Webhook struct {
	url, key string
	header   map[string]notify.Secret
	shape    *shape
	client   *http.Client
}

// New returns a transport for c, or what is wrong with c, without quoting it.
func New(c Config) (*Webhook, error) {
	u, err := url.Parse(string(c.URL))
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, home.Hinted("set up a webhook", "Write the address as http://host/path or https://host/path.", "the address cannot be used")
	}
	if err := validHeaders(c.Header); err != nil {
		return nil, err
	}
	shape, err := newShape(c.Body)
	if err != nil {
		return nil, err
	}
	client := c.Client
	if client == nil {
		client = &http.Client{}
	}
	return &Webhook{url: string(c.URL), key: string(c.Key), header: c.Header, shape: shape, client: reply.Staying(client)}, nil
}

// String hides what w holds: fmt would print its fields.
func (w *Webhook) String() string { return "webhook" }

// GoString hides it from %#v.
func (w *Webhook) GoString() string { return "webhook" }

// Send posts m. It returns nil only for a 2xx answer.
func (w *Webhook) Send(ctx context.Context, m notify.Message) error {
	req, err := w.request(ctx, m)
	if err != nil {
		return err
	}
	resp, err := w.client.Do(req)
	if err != nil {
		return reply.Unreached(err)
	}
	defer resp.Body.Close()
	// Read a little, so that the connection can be used again, and never much.
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, 4<<10))
	return reply.Verdict(resp, time.Now())
}

func (w *Webhook) request(ctx context.Context, m notify.Message) (*http.Request, error) {
	body, err := w.shape.of(m)
	if err != nil {
		return nil, notify.Refused("the message cannot be written as JSON")
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, w.url, bytes.NewReader(body))
	if err != nil {
		return nil, notify.Refused("the address cannot be used")
	}
	sent := strconv.FormatInt(time.Now().Unix(), 10)
	req.Header.Set("Content-Type", "application/json; charset=utf-8")
	req.Header.Set("User-Agent", "weighbeam")
	for name, value := range w.header {
		req.Header.Set(name, string(value))
	}
	req.Header.Set(IDHeader, m.ID)
	req.Header.Set(TimeHeader, sent)
	if w.key != "" {
		req.Header.Set(SignatureHeader, Sign(w.key, sent, body))
	}
	return req, nil
}

// Sign is the value of SignatureHeader: the HMAC-SHA256 under key of sent, a
// full stop, and body. The time is part of it, so that an old request cannot be
// replayed as a new one.
func Sign(key, sent string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(key))
	fmt.Fprintf(mac, "%s.", sent)
	mac.Write(body)
	return "sha256=" + hex.EncodeToString(mac.Sum(nil))
}
