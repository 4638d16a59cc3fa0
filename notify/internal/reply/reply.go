// Package reply says what an HTTP receiver's answer to a message means, for the
// transports that speak HTTP.
//
// It guarantees that neither the address nor what the receiver wrote appears in
// an error: either may hold a secret.
package reply

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"time"

	"weighbeam/notify"
)

// Verdict is nil for a 2xx answer and a [notify.Failure] otherwise. 408, 425, 429
// and all 5xx may pass (RFC 9110, RFC 8470, RFC 6585); so may 401, 403 and 404
// while a keeper mends the receiver, but nothing else in 4xx. A redirect is refused.
func Verdict(resp *http.Response, now time.Time) error {
	code := resp.StatusCode
	switch {
	case code >= 200 && code < 300:
		return nil
	case code >= 300 && code < 400:
		return notify.Refused("it redirects elsewhere (HTTP %d), which is not followed", code)
	case code == 408, code == 425, code == 429, code >= 500, code == 401, code == 403, code == 404:
		return &notify.Failure{Why: fmt.Sprintf("it answered HTTP %d", code), Retry: true, After: After(resp.Header.Get("Retry-After"), now)}
	}
	return notify.Refused("it answered HTTP %d", code)
}

// Staying is a copy of client that follows no redirect, so that nothing goes to
// an address that the keeper did not write down.
func Staying(client *http.Client) *http.Client {
	own := *client
	own.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &own
}

// longestAfter bounds a pause that a receiver asks for: no receiver may silence
// a channel for days.
const longestAfter = time.Hour

// After reads a Retry-After (RFC 9110, 10.2.3): seconds or a date.
func After(s string, now time.Time) time.Duration {
	var d time.Duration
	if n, err := strconv.Atoi(s); err == nil {
		d = time.Duration(min(max(n, 0), int(longestAfter/time.Second))) * time.Second
	} else if t, err := http.ParseTime(s); err == nil {
		d = t.Sub(now)
	}
	return min(max(d, 0), longestAfter)
}

// Unreached says why there was no answer. The error of net/http quotes the
// address, and with it any password or token in it, so only its kind is told.
func Unreached(err error) error {
	var dns *net.DNSError
	var op *net.OpError
	var cert *tls.CertificateVerificationError
	var timeout net.Error
	switch {
	case errors.As(err, &dns):
		return notify.Unreached("its name cannot be found")
	case errors.As(err, &cert):
		return notify.Unreached("its certificate is not trusted")
	case errors.As(err, &timeout) && timeout.Timeout():
		return notify.Unreached("it did not answer in time")
	case errors.As(err, &op) && op.Op == "dial":
		return notify.Unreached("it cannot be reached")
	}
	return notify.Unreached("the connection broke before an answer")
}
