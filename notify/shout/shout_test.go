package shout

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

const secret = "planted-secret"

// The test binary plays the child: the program with the argument "carry", or
// one that breaks down.
func TestMain(m *testing.M) {
	switch {
	case len(os.Args) == 2 && os.Args[1] == "carry":
		if err := Carry(os.Stdin, os.Stdout); err != nil {
			os.Exit(1)
		}
		os.Exit(0)
	case len(os.Args) == 3 && os.Args[1] == "break":
		fmt.Println(os.Args[2])
		os.Exit(3)
	}
	os.Exit(m.Run())
}

type counting struct {
	*httptest.Server
	mu   sync.Mutex
	body []string
}

func (c *counting) bodies() []string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.body
}

func serve(t *testing.T, answer http.HandlerFunc) *counting {
	t.Helper()
	c := &counting{}
	c.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, _ := io.ReadAll(r.Body)
		c.mu.Lock()
		c.body = append(c.body, string(b))
		c.mu.Unlock()
		answer(w, r)
	}))
	c.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
	t.Cleanup(c.Close)
	return c
}

// generic is the address, for the library's generic service, of a server on
// loopback, with a secret in it.
func generic(addr string) string {
	host := strings.TrimPrefix(addr, "http://")
	return "generic://" + host + "/hook/" + secret + "?disabletls=yes&template=json&@token=" + secret
}

func transport(t *testing.T, addr string) *Shout {
	t.Helper()
	s, err := New(Config{URL: notify.Secret(addr)})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func failure(t *testing.T, err error) *notify.Failure {
	t.Helper()
	var f *notify.Failure
	if !errors.As(err, &f) {
		t.Fatalf("%T: %v", err, err)
	}
	if strings.Contains(fmt.Sprintf("%v %+v %#v", err, f, f), secret) {
		t.Errorf("the secret is shown: %v", f)
	}
	return f
}

func TestShout_Send_Delivers(t *testing.T) {
	c := serve(t, func(http.ResponseWriter, *http.Request) {})
	m := notify.Trial("phone", time.Now())
	if err := transport(t, generic(c.URL)).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if len(c.bodies()) != 1 {
		t.Fatalf("%d requests", len(c.bodies()))
	}
	var got struct{ Title, Message string }
	if err := json.Unmarshal([]byte(c.bodies()[0]), &got); err != nil || got.Title != m.Subject || strings.TrimSpace(got.Message) != strings.TrimSpace(m.Body) {
		t.Errorf("%s: %+v, %v", c.bodies()[0], got, err)
	}
}

func TestShout_Send_Fails(t *testing.T) {
	elsewhere := serve(t, func(http.ResponseWriter, *http.Request) {})
	tests := []struct {
		name   string
		answer http.HandlerFunc
		retry  bool
		after  time.Duration
		want   string
	}{
		// What HTTP says of it decides, not the library's text.
		{"busy", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "90")
			http.Error(w, secret, 429)
		}, true, 90 * time.Second, "HTTP 429"},
		{"broken", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, secret, 500) }, true, 0, "HTTP 500"},
		{"bad", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, secret, 400) }, false, 0, "HTTP 400"},
		// Nothing goes to an address that the keeper did not write down.
		{"redirect", func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, elsewhere.URL, 307) }, false, 0, "redirects"},
		// It hangs up.
		{"slams", func(w http.ResponseWriter, _ *http.Request) { panic(http.ErrAbortHandler) }, true, 0, "did not take it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := serve(t, tt.answer)
			f := failure(t, transport(t, generic(c.URL)).Send(t.Context(), notify.Trial("phone", time.Now())))
			if f.Retry != tt.retry || f.After != tt.after || !strings.Contains(f.Why, tt.want) {
				t.Errorf("%+v", f)
			}
		})
	}
	if len(elsewhere.bodies()) != 0 {
		t.Error("the redirect was followed")
	}
}

// A service that hangs is ended at the deadline, its child with it.
func TestShout_Send_Hangs(t *testing.T) {
	gone := make(chan struct{})
	c := serve(t, func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done(); close(gone) })
	ctx, cancel := context.WithTimeout(t.Context(), 500*time.Millisecond)
	defer cancel()
	f := failure(t, transport(t, generic(c.URL)).Send(ctx, notify.Trial("phone", time.Now())))
	if !f.Retry || !strings.Contains(f.Why, "in time") {
		t.Errorf("%+v", f)
	}
	select {
	case <-gone: // the server saw the connection close: the child is dead
	case <-time.After(10 * time.Second):
		t.Error("the child lives on")
	}
}

func TestShout_Send_NotThere(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l.Close() // nobody listens there now
	f := failure(t, transport(t, generic("http://"+l.Addr().String())).Send(t.Context(), notify.Trial("phone", time.Now())))
	if !f.Retry || !strings.Contains(f.Why, "cannot be reached") {
		t.Errorf("%+v", f)
	}
}

// An address of a known service that the service itself does not take.
func TestShout_Send_UnusableAddress(t *testing.T) {
	f := failure(t, transport(t, "telegram://"+secret).Send(t.Context(), notify.Trial("phone", time.Now())))
	if f.Retry || !strings.Contains(f.Why, "address") {
		t.Errorf("%+v", f)
	}
}

// A child that breaks down, or says what is no answer, tells nothing.
func TestShout_Send_BrokenChild(t *testing.T) {
	for _, says := range []string{"", "panic: " + secret, `{"Kind":"` + secret + `"}`} {
		s, err := New(Config{URL: "generic://h", Child: []string{os.Args[0], "break", says}})
		if err != nil {
			t.Fatal(err)
		}
		if f := failure(t, s.Send(t.Context(), notify.Trial("phone", time.Now()))); !f.Retry {
			t.Errorf("%+v", f)
		}
	}
}

func TestAnswer_Failure(t *testing.T) {
	// A word that this program does not know is a failure without a word.
	if f := failure(t, answer{Kind: secret}.failure()); !f.Retry {
		t.Errorf("%+v", f)
	}
	// No answer silences a channel for long.
	if f := failure(t, answer{Kind: busy, Code: 429, After: 1000 * time.Hour}.failure()); f.After != time.Hour {
		t.Errorf("%+v", f)
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, addr := range []string{"", "no-such-service://" + secret, "://" + secret, "logger://", "generic:\x00" + secret} {
		_, err := New(Config{URL: notify.Secret(addr)})
		if err == nil || home.Hint(err) == "" || strings.Contains(fmt.Sprintf("%v %+v", err, err), secret) {
			t.Errorf("%q: %v", addr, err)
		}
	}
}

func TestShout_Format_Shy(t *testing.T) {
	s := transport(t, generic("http://h"))
	if text := fmt.Sprintf("%v %+v %#v %+v", s, s, s, Config{URL: secret}); strings.Contains(text, secret) {
		t.Error(text)
	}
}
