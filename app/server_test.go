package app

import (
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// patienceOf is how long a test waits for what must come.
const patienceOf = 20 * time.Second

// begun is a connection over which the beginning of a request was sent.
func begun(t *testing.T, address, text string) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(patienceOf)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(c, text); err != nil {
		t.Fatal(err)
	}
	return c
}

// hasty serves pages as those of the program are, with little time to send them something.
func hasty(t *testing.T, page http.HandlerFunc) (address string) {
	t.Helper()
	srv := httptest.NewUnstartedServer(nil)
	srv.Config = newServer(page, slog.New(slog.DiscardHandler))
	if srv.Config.ReadTimeout <= 0 || srv.Config.ReadTimeout > 2*time.Minute {
		t.Fatalf("what is sent may take %s", srv.Config.ReadTimeout)
	}
	srv.Config.ReadTimeout = 50 * time.Millisecond
	srv.Start()
	t.Cleanup(srv.Close)
	return srv.Listener.Addr().String()
}

// Who sends a part of a body and then nothing is cut off, whether a page reads it or
// not, and whether its length was said.
func TestServer_BodyThatNeverComes_IsCutOff(t *testing.T) {
	for name, page := range map[string]http.HandlerFunc{
		"read":    func(w http.ResponseWriter, r *http.Request) { _, _ = io.Copy(w, r.Body) },
		"refused": func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusUnauthorized) },
	} {
		for _, length := range []string{"Content-Length: 100000", "Transfer-Encoding: chunked"} {
			c := begun(t, hasty(t, page), "POST /check HTTP/1.1\r\nHost: cats\r\n"+length+"\r\n\r\n1")
			if _, err := io.ReadAll(c); errors.Is(err, os.ErrDeadlineExceeded) {
				t.Errorf("%s, %s: still open", name, length)
			}
			c.Close()
		}
	}
}

// A page that follows something, and work on what was sent, may take longer.
func TestServer_AnswerThatTakesLonger_GoesOn(t *testing.T) {
	address := hasty(t, func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.Copy(io.Discard, r.Body); err != nil {
			t.Error(err)
		}
		select {
		case <-r.Context().Done():
			t.Error("it was stopped with what was sent")
		case <-time.After(200 * time.Millisecond):
		}
	})
	for _, ask := range []string{"GET /live HTTP/1.0\r\n\r\n", "POST /check HTTP/1.0\r\nContent-Length: 1\r\n\r\n1"} {
		if said, err := io.ReadAll(begun(t, address, ask)); err != nil || !strings.Contains(string(said), "200 OK") {
			t.Errorf("%q: %s, %v", ask, said, err)
		}
	}
}

// Only so many connections are served at a time; who comes later waits for one to end.
func TestApp_Pages_CountConnections(t *testing.T) {
	l := startLiveWith(t, home.Household{}, noon, "")
	at, ask := strings.TrimPrefix(l.PagesURL(), "http://"), "GET /icon.svg HTTP/1.0\r\n"
	first := begun(t, at, ask)
	for range maxOpen - 1 {
		begun(t, at, ask)
	}
	late := begun(t, at, ask+"\r\n")
	if err := late.SetReadDeadline(time.Now().Add(50 * time.Millisecond)); err != nil {
		t.Fatal(err)
	}
	if n, err := late.Read(make([]byte, 1)); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("one too many hears %d bytes, %v", n, err)
	}
	first.Close()
	if err := late.SetReadDeadline(time.Now().Add(patienceOf)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadAll(late); err != nil {
		t.Errorf("after one has gone: %v", err)
	}
}
