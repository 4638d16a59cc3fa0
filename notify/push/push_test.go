package push

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/push/pushtest"
)

// shelf is a store in memory.
type shelf struct {
	mu   sync.Mutex
	all  []home.Subscription
	fail error
}

func (s *shelf) Subscribe(_ context.Context, one home.Subscription) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail == nil {
		s.all = append(without(s.all, one.Endpoint), one)
	}
	return s.fail
}

func (s *shelf) Unsubscribe(_ context.Context, endpoint string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail == nil {
		s.all = without(s.all, endpoint)
	}
	return s.fail
}

func (s *shelf) Subscriptions(context.Context) ([]home.Subscription, error) { return s.all, s.fail }

// pusher is a transport to the browsers of ada, over the given service.
func pusher(t *testing.T, s pushtest.Service, browsers ...home.Subscription) (*Push, *Book) {
	t.Helper()
	private, public, err := MakeKeys()
	if err != nil {
		t.Fatal(err)
	}
	book, err := OpenBook(t.Context(), &shelf{all: browsers})
	if err != nil {
		t.Fatal(err)
	}
	return New(Config{Keys: Keys{notify.Secret(private), public}, Contact: "ada@example.org", Services: []string{s.Host()}, Client: s.Client()}, book, "ada"), book
}

func message() notify.Message {
	return notify.Message{ID: "juniper/weight-falling/1/raised/1/ada", Finding: "juniper/weight-falling/1", Urgency: home.Today,
		Subject: "Juniper: weight falling. Call the vet today.", Body: "Juniper is losing weight.\n\n" + home.Caution + "\n"}
}

// A message arrives encrypted for the browser, with the proof of who sends it and
// what the service needs to know: how urgent it is, for how long it is to be kept
// and which one it replaces.
func TestPush_Send_ArrivesEncrypted(t *testing.T) {
	s, b := pushtest.Serve(t, pushtest.Created), pushtest.NewBrowser(t)
	p, _ := pusher(t, s, b.Subscription(s.URL+"/to/1", "ada"), pushtest.NewBrowser(t).Subscription(s.URL+"/to/2", "bob"))
	if err := p.Send(t.Context(), message()); err != nil {
		t.Fatal(err)
	}
	if len(s.Caught()) != 1 || s.Caught()[0].URL.Path != "/to/1" {
		t.Fatalf("%d requests: whose browser is it?", len(s.Caught()))
	}
	text, err := b.Open([]byte(s.Caught()[0].Body))
	if err != nil {
		t.Fatal(err)
	}
	var got shown
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	m := message()
	if got.Title != m.Subject || got.Body != strings.TrimSpace(m.Body) || got.ID != m.ID || got.Urgency != home.Today || got.Path != "/findings/juniper/weight-falling/1" {
		t.Errorf("the browser shows %+v", got)
	}
	h := s.Caught()[0].Header
	if h.Get("Content-Encoding") != "aes128gcm" || h.Get("TTL") != "259200" || h.Get("Urgency") != "high" || !regexp.MustCompile(`^[A-Za-z0-9_-]{32}$`).MatchString(h.Get("Topic")) {
		t.Errorf("headers %v", h)
	}
	claims, err := pushtest.Claims(h.Get("Authorization"), p.conf.Keys.Public)
	if err != nil {
		t.Fatal(err)
	}
	exp, _ := claims["exp"].(float64)
	ends := time.Until(time.Unix(int64(exp), 0))
	if claims["aud"] != s.URL || claims["sub"] != "mailto:ada@example.org" || ends <= 0 || ends > 24*time.Hour { // RFC 8292, 2
		t.Errorf("claims %v", claims)
	}
}

func TestPush_Send_Answers(t *testing.T) {
	for _, tt := range []struct {
		name   string
		answer http.HandlerFunc
		want   *notify.Failure // nil: taken
		left   int             // browsers
	}{
		{"created", pushtest.Created, nil, 1},
		{"accepted", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(202) }, nil, 1},
		// The browser is gone for good (RFC 8030, 7.3): it is forgotten.
		{"gone", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(410) }, errGone, 0},
		{"not found", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(404) }, errGone, 0},
		// A rate limit is respected.
		{"too many", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "120")
			w.WriteHeader(429)
		}, &notify.Failure{Why: "it answered HTTP 429", Retry: true, After: 2 * time.Minute}, 1},
		{"broken", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) }, &notify.Failure{Why: "it answered HTTP 500", Retry: true}, 1},
		{"too large", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(413) }, &notify.Failure{Why: "it answered HTTP 413"}, 1},
		// Nothing goes to where nobody allowed it to go.
		{"redirect", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "https://127.0.0.1:1/", http.StatusTemporaryRedirect)
		},
			&notify.Failure{Why: "it redirects elsewhere (HTTP 307), which is not followed"}, 1},
		{"breaks off", func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }, &notify.Failure{Why: "the connection broke before an answer", Retry: true}, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			s := pushtest.Serve(t, tt.answer)
			p, book := pusher(t, s, pushtest.NewBrowser(t).Subscription(s.URL+"/hunter2", "ada"))
			err := p.Send(t.Context(), message())
			var f *notify.Failure
			if tt.want == nil && err != nil || tt.want != nil && (!errors.As(err, &f) || *f != *tt.want) {
				t.Errorf("%v, want %+v", err, tt.want)
			}
			if err != nil && strings.Contains(err.Error(), "hunter2") {
				t.Error("it tells the endpoint")
			}
			if got := len(book.Of("ada")); got != tt.left {
				t.Errorf("%d browsers are left, want %d", got, tt.left)
			}
		})
	}
}

// Of several browsers one is enough; a dead one keeps none of the others waiting;
// where none took it, the failure with most hope counts.
func TestPush_Send_Several(t *testing.T) {
	hang := make(chan struct{})
	s := pushtest.Serve(t, func(w http.ResponseWriter, r *http.Request) {
		switch r.URL.Path {
		case "/hangs":
			<-hang
		case "/down":
			w.WriteHeader(503)
		case "/gone":
			w.WriteHeader(410)
		default:
			w.WriteHeader(201)
		}
	})
	t.Cleanup(func() { close(hang) }) // before the server is closed
	for _, tt := range []struct {
		name  string
		paths []string
		want  string
	}{
		{"one of three", []string{"/down", "/gone", "/well"}, ""},
		{"one is only down", []string{"/gone", "/down"}, "it answered HTTP 503"},
		{"one hangs", []string{"/hangs", "/gone"}, "it did not answer in time"},
		{"none asks", nil, "no browser asks to be told any more"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			var all []home.Subscription
			for _, path := range tt.paths {
				all = append(all, pushtest.NewBrowser(t).Subscription(s.URL+path, "ada"))
			}
			p, _ := pusher(t, s, all...)
			ctx, cancel := context.WithTimeout(t.Context(), time.Second)
			defer cancel()
			err := p.Send(ctx, message())
			if tt.want == "" && err != nil || tt.want != "" && (err == nil || err.Error() != tt.want) {
				t.Errorf("%v, want %q", err, tt.want)
			}
		})
	}
}

// However long a message is, it fits into one record, is whole runes and ends with
// the caution.
func TestPayload_Fits(t *testing.T) {
	for _, n := range []int{0, 100, 3000, 3400, 3500, 4000, 20000} {
		for _, filler := range []string{"a", "ü", "\"", "猫"} {
			m := message()
			m.Body = strings.Repeat(filler, n) + "\n\n" + home.Caution + "\n"
			text, err := payload(m)
			if err != nil || len(text) > most {
				t.Fatalf("%d of %s: %d bytes, %v", n, filler, len(text), err)
			}
			var got shown
			if err := json.Unmarshal(text, &got); err != nil || !utf8.ValidString(got.Body) || strings.ContainsRune(got.Body, utf8.RuneError) || !strings.HasSuffix(got.Body, home.Caution) {
				t.Errorf("%d of %s: %v, ends with %q", n, filler, err, got.Body[max(0, len(got.Body)-60):])
			}
			if n == 20000 && len(text) < most-200 {
				t.Errorf("%d of %s: only %d bytes are used", n, filler, len(text))
			}
		}
	}
	m := message()
	m.Body = strings.Repeat("x", 9000) // of somebody without a caution
	if text, err := payload(m); err != nil || len(text) > most || !strings.Contains(string(text), "…") {
		t.Errorf("%d bytes, %v", len(text), err)
	}
}

func TestConfig_Allows(t *testing.T) {
	c := Config{Services: []string{"push.example.org", "127.0.0.1:8443"}}
	for endpoint, want := range map[string]bool{
		"https://fcm.googleapis.com/fcm/send/x":             true,
		"https://updates.push.services.mozilla.com/wpush/x": true,
		"https://push.example.org/x":                        true,
		"https://127.0.0.1:8443/x":                          true,
		// A browser must not be able to make the house speak to the house.
		"https://127.0.0.1:8640/api": false,
		"https://192.168.1.1/":       false,
		// Names that only look alike.
		"https://fcm.googleapis.com.evil.example/": false,
		"https://evilpush.apple.com/":              false,
		"https://push.example.org:444/x":           false,
		"http://push.example.org/x":                false,
		"https://push.apple.com@evil.example/":     false,
	} {
		if got := c.Allows(endpoint); got != want {
			t.Errorf("%s: %v", endpoint, got)
		}
	}
}

func TestPush_HidesSecrets(t *testing.T) {
	s := pushtest.Serve(t, pushtest.Created)
	p, _ := pusher(t, s)
	if text := fmt.Sprintf("%v %+v %#v %v", p, p, p, p.conf); strings.Contains(text, string(p.conf.Keys.Private)) {
		t.Errorf("it shows its key: %s", text)
	}
}
