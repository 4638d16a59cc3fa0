package shout

import (
	"encoding/json"
	"errors"
	"io"
	"log"
	"net"
	"net/http"
	"strconv"
	"sync/atomic"
	"time"

	"github.com/nicholas-fedor/shoutrrr/pkg/router"
	"github.com/nicholas-fedor/shoutrrr/pkg/types"
)

// Carry does one errand: it reads it from in, hands the message to the service,
// and writes how that ended to out, as the last line. It is the whole life of a
// child process, which it changes for good: the common HTTP transport of the
// process refuses redirects afterwards.
func Carry(in io.Reader, out io.Writer) error {
	var e errand
	if err := json.NewDecoder(in).Decode(&e); err != nil {
		return errors.New("carry: there is no errand on the standard input")
	}
	watch := &watching{next: http.DefaultTransport}
	http.DefaultTransport = watch
	return json.NewEncoder(newLine{out}).Encode(watch.carry(e))
}

// newLine puts a line end before the answer: the library may have printed half a line.
type newLine struct{ io.Writer }

func (n newLine) Write(b []byte) (int, error) {
	if _, err := n.Writer.Write([]byte("\n")); err != nil {
		return 0, err
	}
	return n.Writer.Write(b)
}

func (w *watching) carry(e errand) answer {
	r, err := router.New(log.New(io.Discard, "", 0), e.URL)
	if err != nil {
		if a, online := w.said(err); online { // some services log in when they are set up
			return a
		}
		return answer{Kind: unusable}
	}
	params := types.Params{}
	params.SetTitle(e.Subject)
	for _, err := range r.Send(e.Body, &params) {
		if err != nil {
			a, _ := w.said(err)
			return a
		}
	}
	return answer{Kind: taken}
}

// watching is a transport that refuses redirects and remembers the last answer:
// the library's errors do not say it in a way to rely on.
type watching struct {
	next http.RoundTripper
	last atomic.Pointer[answer]
}

var errRedirect = errors.New("redirect refused")

// RoundTrip makes watching a http.RoundTripper.
func (w *watching) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := w.next.RoundTrip(r)
	if err != nil {
		a := broken(err)
		w.last.Store(&a)
		return nil, err
	}
	if resp.StatusCode >= 300 && resp.StatusCode < 400 {
		resp.Body.Close()
		w.last.Store(&answer{Kind: redirects})
		return nil, errRedirect
	}
	a := heard(resp)
	w.last.Store(&a)
	return resp, nil
}

// said is what an error of the library means, and whether it came from outside.
func (w *watching) said(err error) (answer, bool) {
	if a := w.last.Load(); a != nil && a.Kind != taken {
		return *a, true
	}
	a := broken(err)
	return a, a.Kind != failed
}

func heard(resp *http.Response) answer {
	code := resp.StatusCode
	switch {
	case code < 300:
		return answer{Kind: taken}
	case code >= 500, code == 401, code == 403, code == 404, code == 408, code == 425, code == 429:
		s, _ := strconv.Atoi(resp.Header.Get("Retry-After"))
		return answer{Kind: busy, Code: code, After: time.Duration(min(max(s, 0), 3600)) * time.Second}
	}
	return answer{Kind: refused, Code: code}
}

func broken(err error) answer {
	var dns *net.DNSError
	var op *net.OpError
	switch {
	case errors.As(err, &dns):
		return answer{Kind: unknown}
	case errors.As(err, &op):
		return answer{Kind: unreached}
	}
	return answer{Kind: failed}
}
