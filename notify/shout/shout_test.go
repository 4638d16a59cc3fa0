package shout

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/internal/catcher"
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
	c := catcher.Serve(t, catcher.OK)
	m := notify.Trial("phone", time.Now())
	if err := transport(t, generic(c.URL)).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if len(c.Caught()) != 1 {
		t.Fatalf("%d requests", len(c.Caught()))
	}
	var got struct{ Title, Message string }
	if err := json.Unmarshal([]byte(c.Caught()[0].Body), &got); err != nil || got.Title != m.Subject || strings.TrimSpace(got.Message) != strings.TrimSpace(m.Body) {
		t.Errorf("%s: %+v, %v", c.Caught()[0].Body, got, err)
	}
}

func TestShout_Send_Fails(t *testing.T) {
	elsewhere := catcher.Serve(t, catcher.OK)
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
			http.Error(w, secret, http.StatusTooManyRequests)
		}, true, 90 * time.Second, "HTTP 429"},
		{"broken", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, secret, http.StatusInternalServerError) }, true, 0, "HTTP 500"},
		{"bad", func(w http.ResponseWriter, _ *http.Request) { http.Error(w, secret, http.StatusBadRequest) }, false, 0, "HTTP 400"},
		// Nothing goes to an address that the keeper did not write down.
		{"redirect", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, elsewhere.URL, http.StatusTemporaryRedirect)
		}, false, 0, "redirects"},
		// It hangs up.
		{"slams", func(w http.ResponseWriter, _ *http.Request) { panic(http.ErrAbortHandler) }, true, 0, "did not take it"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := catcher.Serve(t, tt.answer)
			f := failure(t, transport(t, generic(c.URL)).Send(t.Context(), notify.Trial("phone", time.Now())))
			if f.Retry != tt.retry || f.After != tt.after || !strings.Contains(f.Why, tt.want) {
				t.Errorf("%+v", f)
			}
		})
	}
	if len(elsewhere.Caught()) != 0 {
		t.Error("the redirect was followed")
	}
}

// A service that hangs is ended at the deadline, its child with it. The deadline
// leaves the child time to start on a busy machine.
func TestShout_Send_Hangs(t *testing.T) {
	gone := make(chan struct{})
	c := catcher.Serve(t, func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done(); close(gone) })
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
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
