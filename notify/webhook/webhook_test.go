package webhook

import (
	"bufio"
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/internal/catcher"
)

// The secrets that are planted in every configuration of these tests.
const (
	user, password, token, key = "planted-user", "planted-password", "planted-token", "planted-key"
)

var secrets = []string{user, password, token, key, "cGxhbnRlZC11c2Vy"} // the last: base64 of the user

// shy fails the test if any secret is in the texts.
func shy(t *testing.T, texts ...any) {
	t.Helper()
	text := fmt.Sprintf("%v %+v", texts, texts)
	for _, s := range secrets {
		if strings.Contains(text, s) {
			t.Errorf("%q is shown: %s", s, text)
		}
	}
}

// planted is addr with every secret in it that an address can hold.
func planted(addr string) string {
	return strings.Replace(addr, "://", "://"+user+":"+password+"@", 1) + "/hook/" + token + "?token=" + token
}

func message() notify.Message {
	return notify.Message{ID: "juniper/weight-falling/x/raised/y/phone", Subject: "Juniper: weight falling. Book a vet visit.",
		Body: "Juniper is losing weight.\n\n" + home.Caution + "\n", Urgency: home.Book,
		Created: time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC), Notices: []string{"juniper/weight-falling/x/raised/y/phone"}}
}

func hook(t *testing.T, addr string) *Webhook {
	t.Helper()
	w, err := New(Config{URL: notify.Secret(planted(addr)), Key: key})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func TestWebhook_Send_Delivers(t *testing.T) {
	c := catcher.Serve(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
	if err := hook(t, c.URL).Send(t.Context(), message()); err != nil {
		t.Fatal(err)
	}
	if len(c.Caught()) != 1 {
		t.Fatalf("%d requests", len(c.Caught()))
	}
	r, body := c.Caught()[0], c.Caught()[0].Body
	if r.Method != http.MethodPost || r.URL.Path != "/hook/"+token || r.Header.Get(IDHeader) != message().ID {
		t.Errorf("%s %s id %q", r.Method, r.URL, r.Header.Get(IDHeader))
	}
	if want := Sign(key, r.Header.Get(TimeHeader), []byte(body)); r.Header.Get(SignatureHeader) != want {
		t.Errorf("signature %q, want %q", r.Header.Get(SignatureHeader), want)
	}
	var p notify.Message
	if err := json.Unmarshal([]byte(body), &p); err != nil {
		t.Fatal(err)
	}
	if p.Subject != message().Subject || p.Body != message().Body || p.Urgency != "book" || len(p.Notices) != 1 || !p.Created.Equal(message().Created) {
		t.Errorf("message %+v", p)
	}
}

// The value was computed with OpenSSL 3:
// printf '1.{}' | openssl dgst -sha256 -hmac Jefe
func TestSign_Value(t *testing.T) {
	const want = "sha256=dc7943cccf20f64327d263db5e2aca27c2b8175e8e6e7ea04f482091bf456b0f"
	if got := Sign("Jefe", "1", []byte("{}")); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if Sign("Jefe", "1", []byte("{}")) == Sign("Jefe", "2", []byte("{}")) || Sign("Jefe", "1", []byte("{}")) == Sign("jefe", "1", []byte("{}")) {
		t.Error("time or key do not count")
	}
}

func TestWebhook_Send_Answers(t *testing.T) {
	tests := []struct {
		name  string
		code  int
		after string
		retry bool
		pause time.Duration
	}{
		// A keeper may mend the receiver within the day that it is tried.
		{"unauthorised", 401, "", true, 0},
		{"not there yet", 404, "", true, 0},
		// It asks for a pause, in seconds or as a date long past.
		{"busy", 429, "120", true, 2 * time.Minute},
		{"busy, past date", 503, "Wed, 21 Oct 2015 07:28:00 GMT", true, 0},
		// No receiver may silence a channel for days.
		{"greedy", 429, "999999999", true, time.Hour},
		{"nonsense", 429, "soon", true, 0},
		{"negative", 429, "-5", true, 0},
		{"broken", 500, "", true, 0},
		{"gateway", 502, "", true, 0},
		// It will never take this.
		{"bad request", 400, "", false, 0},
		{"gone", 410, "", false, 0},
		{"too large", 413, "", false, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			c := catcher.Serve(t, func(w http.ResponseWriter, r *http.Request) {
				if tt.after != "" {
					w.Header().Set("Retry-After", tt.after)
				}
				w.WriteHeader(tt.code)
				fmt.Fprint(w, r.URL, r.Header) // a receiver that quotes everything back
			})
			f := failure(t, hook(t, c.URL).Send(t.Context(), message()))
			if f.Retry != tt.retry || f.After != tt.pause || !strings.Contains(f.Why, fmt.Sprint(tt.code)) {
				t.Errorf("%+v", f)
			}
		})
	}
}

// failure is err as a Failure without secrets.
func failure(t *testing.T, err error) *notify.Failure {
	t.Helper()
	var f *notify.Failure
	if !errors.As(err, &f) {
		t.Fatalf("%T: %v", err, err)
	}
	shy(t, err, f, errors.Unwrap(err))
	return f
}

// A redirect goes nowhere, whatever its code and target.
func TestWebhook_Send_NoRedirect(t *testing.T) {
	elsewhere := catcher.Serve(t, catcher.OK)
	for _, code := range []int{301, 302, 303, 307, 308} {
		c := catcher.Serve(t, func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, elsewhere.URL, code) })
		if f := failure(t, hook(t, c.URL).Send(t.Context(), message())); f.Retry {
			t.Errorf("%d is tried again: %v", code, f)
		}
	}
	if n := len(elsewhere.Caught()); n != 0 {
		t.Errorf("%d requests went elsewhere", n)
	}
}

// A server that is absent, hangs, trickles or talks rubbish is left by the
// deadline, and never an excuse to show the address.
func TestWebhook_Send_BadServers(t *testing.T) {
	tests := []struct {
		name string
		talk func(net.Conn)
		want string
	}{
		// It takes the connection and says nothing.
		{"hangs", func(c net.Conn) { _, _ = io.Copy(io.Discard, c) }, "did not answer in time"},
		// It starts to answer and never gets on.
		{"trickles", func(c net.Conn) {
			_, _ = bufio.NewReader(c).ReadString('\n') // an answer to nothing is another fault
			fmt.Fprint(c, "HTTP/1.1 200 OK\r\nX-A: ")
			_, _ = io.Copy(io.Discard, c)
		}, "did not answer in time"},
		// It talks another protocol, and does so first.
		{"garbage", func(c net.Conn) { fmt.Fprint(c, "220 mail.example.org ESMTP "+password+"\r\n"); c.Close() }, "broke before an answer"},
		// It hangs up.
		{"slams", func(c net.Conn) { c.Close() }, "broke before an answer"},
		// It hangs up in the middle of an answer.
		{"half", func(c net.Conn) {
			_, _ = bufio.NewReader(c).ReadString('\n')
			fmt.Fprint(c, "HTTP/1.1 20")
			c.Close()
		}, "broke before an answer"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			defer l.Close()
			go func() {
				for {
					c, err := l.Accept()
					if err != nil {
						return
					}
					go func() { defer c.Close(); tt.talk(c) }()
				}
			}()
			patience := 200 * time.Millisecond
			if tt.want != "did not answer in time" {
				patience = 10 * time.Second // a busy machine must not turn one fault into another
			}
			ctx, cancel := context.WithTimeout(t.Context(), patience)
			defer cancel()
			f := failure(t, hook(t, "http://"+l.Addr().String()).Send(ctx, message()))
			if !f.Retry || !strings.Contains(f.Why, tt.want) {
				t.Errorf("%+v", f)
			}
		})
	}
}

func TestWebhook_Send_NotThere(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l.Close() // nobody listens there now
	f := failure(t, hook(t, "http://"+l.Addr().String()).Send(t.Context(), message()))
	if !f.Retry || f.Why != "it cannot be reached" {
		t.Errorf("%+v", f)
	}
}

// A certificate that nobody vouches for is refused, without quoting the address.
func TestWebhook_Send_UntrustedTLS(t *testing.T) {
	s := httptest.NewUnstartedServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	s.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
	s.StartTLS()
	defer s.Close()
	if f := failure(t, hook(t, s.URL).Send(t.Context(), message())); !strings.Contains(f.Why, "certificate") {
		t.Errorf("%+v", f)
	}
	w, err := New(Config{URL: notify.Secret(s.URL), Client: &http.Client{Transport: &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: s.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs}}}})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Send(t.Context(), message()); err != nil {
		t.Errorf("with the certificate vouched for: %v", err)
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, addr := range []string{"", "host/path", "ftp://" + user + "@host", "http://", "http://" + user + ":" + password + "@[::1", "javascript:alert(1)"} {
		w, err := New(Config{URL: notify.Secret(addr)})
		if err == nil {
			t.Errorf("%q is taken: %v", addr, w)
			continue
		}
		shy(t, err)
		if home.Hint(err) == "" {
			t.Errorf("%q: no hint", addr)
		}
	}
}

// The transport itself does not show its secrets when it is printed or logged.
func TestWebhook_Format_Shy(t *testing.T) {
	w := hook(t, "http://127.0.0.1:1")
	var log strings.Builder
	slog.New(slog.NewJSONHandler(&log, nil)).Info("channel", "transport", w, "config", Config{URL: notify.Secret(planted("http://h")), Key: key})
	shy(t, fmt.Sprintf("%v %+v %#v %s", w, w, w, w), log.String())
}
