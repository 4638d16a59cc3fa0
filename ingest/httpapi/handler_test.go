package httpapi_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
)

var now = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// sink settles with err, or not at all.
type sink struct {
	mu     sync.Mutex
	got    []ingest.Delivery
	err    error // what Deliver answers
	settle error // what a delivery is settled with
	hold   chan struct{}
	kept   map[home.Hash]home.Answer
}

// Answer is of what was settled without an error, as a store keeps it.
func (s *sink) Answer(_ context.Context, key home.Hash) (home.Answer, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	a, found := s.kept[key]
	return a, found, nil
}

func (s *sink) commit(answers []home.Answer) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, a := range answers {
		a.Fill(&a)
		if s.kept == nil {
			s.kept = map[home.Hash]home.Answer{}
		}
		s.kept[a.Key] = a
	}
}

func (s *sink) Arrival() time.Time { return now }

func (s *sink) Deliver(_ context.Context, d ingest.Delivery) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.err != nil {
		return s.err
	}
	s.got = append(s.got, d)
	hold, err := s.hold, s.settle
	go func() {
		if hold != nil {
			<-hold
		}
		if err == nil {
			s.commit(d.Ready.Answers)
		}
		d.Settle(err)
	}()
	return nil
}

func (s *sink) deliveries() []ingest.Delivery {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]ingest.Delivery{}, s.got...)
}

const (
	boxToken  = "fern-and-moss-and-stone"
	bothToken = "bark-and-clay-and-water"
)

var devices = []httpapi.Device{
	{Name: "box", Token: boxToken, Sources: []string{"box-1"}},
	// of this one the settings know the hash only: sha256sum makes it
	{Name: "both", Token: "sha256:" + fmt.Sprintf("%x", sha256.Sum256([]byte(bothToken))), Sources: []string{"box-1", "bowl"}},
}

func newHandler(t testing.TB, cfg httpapi.Config, s *sink) *httpapi.Handler {
	t.Helper()
	router, err := ingest.NewRouter(home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox, Unit: "g", Sends: home.Weight}}})
	if err != nil {
		t.Fatal(err)
	}
	h, err := httpapi.New(cfg, s, router, s)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// post sends a request as a device does.
func post(h http.Handler, token, contentType, body string, change ...func(*http.Request)) *http.Response {
	r := httptest.NewRequest(http.MethodPost, httpapi.Path, strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	for _, f := range change {
		f(r)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func bodyOf(t testing.TB, r *http.Response) string {
	t.Helper()
	b, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

const (
	senml = "application/senml+json"
	good  = `[{"n":"box-1:weight","u":"kg","v":4.5,"t":1741003199}]`
)

func TestHandler_ServeHTTP(t *testing.T) {
	tests := []struct {
		name, token, contentType, body string
		status                         int
		want                           string // part of the body
		readings, aside                int    // delivered
	}{
		{"SenML", boxToken, senml, good, 200, `"taken":1`, 1, 0},
		{"SenML as JSON", boxToken, "application/json; charset=utf-8", good, 200, `"taken":1`, 1, 0},
		// a device with one source: the name may be bare, the unit the scale's
		{"bare", boxToken, senml, `[{"v":4500}]`, 200, `"taken":1`, 1, 0},
		{"CSV", bothToken, "text/csv", "time,source,quantity,value\n2025-03-03T11:00:00Z,box-1,weight,4.5\n2025-03-03T11:00:00Z,bowl,intake,30\n", 200, `"taken":2`, 2, 0},
		// a history of long ago is believed
		{"old CSV", bothToken, "text/csv", "time,source,quantity,value\n2009-03-03T11:00:00Z,box-1,weight,4.5\n", 200, `"taken":1`, 1, 0},
		// one bad record costs itself, and is told
		{"in part", boxToken, senml, `[{"n":"box-1:weight","u":"kg","v":4.5},{"n":"box-1:weight","u":"kg","v":450,"t":-9}]`, 200, "outside", 1, 1},
		// nothing of it can be read: told, and set aside
		{"nonsense", boxToken, senml, `{"weight":4}`, 422, "SenML", 0, 1},
		{"empty", boxToken, senml, "", 422, "SenML", 0, 1},
		// another device's source
		{"not its own", bothToken, senml, `[{"n":"box-2:weight","u":"kg","v":4.5}]`, 422, "may not send", 0, 1},
		{"not its own, one source", boxToken, senml, `[{"n":"bowl:intake","u":"g","v":4.5}]`, 422, "belongs", 0, 1},
		{"no token", "", senml, good, 401, "Bearer", 0, 0},
		{"wrong token", "fern-and-moss-and-stonf", senml, good, 401, "Bearer", 0, 0},
		{"other type", boxToken, "application/x-www-form-urlencoded", "v=4", 415, "text/csv", 0, 0},
		{"no type", boxToken, "", good, 415, "text/csv", 0, 0},
		{"too long", boxToken, senml, strings.Repeat(" ", 1<<20+1), 413, "1048576", 0, 0},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := &sink{}
			got := post(newHandler(t, httpapi.Config{Devices: devices}, s), tt.token, tt.contentType, tt.body)
			if body := bodyOf(t, got); got.StatusCode != tt.status || !strings.Contains(body, tt.want) {
				t.Errorf("%d %s, want %d with %q", got.StatusCode, body, tt.status, tt.want)
			}
			if ct := got.Header.Get("Content-Type"); (got.StatusCode == 200) != (ct == "application/json") {
				t.Errorf("content type %q", ct)
			}
			readings, aside := 0, 0
			for _, d := range s.deliveries() {
				readings += len(d.Ready.Readings)
				aside += len(d.Ready.SetAside)
				for _, r := range d.Ready.Readings {
					if err := r.Valid(); err != nil {
						t.Error(err)
					}
				}
			}
			if readings != tt.readings || aside != tt.aside {
				t.Errorf("%d readings and %d set aside were delivered, want %d and %d", readings, aside, tt.readings, tt.aside)
			}
		})
	}
}

// Without a commit there is no 2xx.
func TestHandler_ServeHTTP_NotCommitted(t *testing.T) {
	held := make(chan struct{})
	t.Cleanup(func() { close(held) })
	for name, s := range map[string]*sink{
		"refused": {settle: errors.New("disk full")},
		"no room": {err: ingest.ErrClosed},
		"slow":    {hold: held},
	} {
		t.Run(name, func(t *testing.T) {
			h := newHandler(t, httpapi.Config{Devices: devices, Wait: 50 * time.Millisecond}, s)
			got := post(h, boxToken, senml, good, key("k"))
			if got.StatusCode != http.StatusServiceUnavailable || got.Header.Get("Retry-After") == "" {
				t.Errorf("%d %v", got.StatusCode, got.Header)
			}
			// the key must not hold on to a failure
			s.mu.Lock()
			s.err, s.settle, s.hold = nil, nil, nil
			s.mu.Unlock()
			if name == "slow" { // it is at work still, see IdempotencyKeyOfSlowCommit
				return
			}
			if got := post(h, boxToken, senml, good, key("k")); got.StatusCode != 200 {
				t.Errorf("again: %d", got.StatusCode)
			}
		})
	}
}

func key(k string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set("Idempotency-Key", k) }
}

func TestHandler_ServeHTTP_IdempotencyKey(t *testing.T) {
	s := &sink{}
	h := newHandler(t, httpapi.Config{Devices: devices}, s)
	bare := `[{"v":4500}]` // no time: only the key can tell that it is the same
	first := bodyOf(t, post(h, boxToken, senml, bare, key("k")))
	if again := bodyOf(t, post(h, boxToken, senml, bare, key("k"))); again != first || len(s.deliveries()) != 1 {
		t.Errorf("%q then %q, %d deliveries", first, again, len(s.deliveries()))
	}
	// another device's key is another key
	if post(h, bothToken, senml, good, key("k")); len(s.deliveries()) != 2 {
		t.Errorf("%d deliveries", len(s.deliveries()))
	}
	// the same key for something else is a mistake of the sender
	if got := post(h, boxToken, senml, good, key("k")); got.StatusCode != http.StatusUnprocessableEntity || len(s.deliveries()) != 2 {
		t.Errorf("%d", got.StatusCode)
	}
	if got := post(h, boxToken, senml, good, key(strings.Repeat("k", 1000))); got.StatusCode != http.StatusBadRequest {
		t.Errorf("%d", got.StatusCode)
	}
}

// The same request while it is being answered is not taken a second time.
func TestHandler_ServeHTTP_IdempotencyKeyAtOnce(t *testing.T) {
	s := &sink{hold: make(chan struct{})}
	h := newHandler(t, httpapi.Config{Devices: devices}, s)
	done := make(chan int)
	go func() { done <- post(h, boxToken, senml, good, key("k")).StatusCode }()
	for end := time.Now().Add(10 * time.Second); len(s.deliveries()) == 0; {
		if time.Now().After(end) {
			t.Fatal("nothing is delivered")
		}
		<-time.After(time.Millisecond)
	}
	if got := post(h, boxToken, senml, good, key("k")); got.StatusCode != http.StatusConflict {
		t.Errorf("%d", got.StatusCode)
	}
	close(s.hold)
	if got := <-done; got != 200 || len(s.deliveries()) != 1 {
		t.Errorf("%d, %d deliveries", got, len(s.deliveries()))
	}
}

// A handler made anew, as after a restart, knows what the one before answered.
func TestHandler_ServeHTTP_IdempotencyKeyAfterRestart(t *testing.T) {
	s := &sink{}
	bare := `[{"v":4500}]`
	before := bodyOf(t, post(newHandler(t, httpapi.Config{Devices: devices}, s), boxToken, senml, bare, key("k")))
	got := post(newHandler(t, httpapi.Config{Devices: devices}, s), boxToken, senml, bare, key("k"))
	if got.Header.Get("Content-Type") != "application/json" {
		t.Errorf("content type %q", got.Header.Get("Content-Type"))
	}
	if again := bodyOf(t, got); again != before || got.StatusCode != 200 || len(s.deliveries()) != 1 {
		t.Errorf("%q then %d %q, %d deliveries", before, got.StatusCode, again, len(s.deliveries()))
	}
}

// A device that is told to send again while the store is still at work gets, in the
// end, the answer to its first try; and its readings are taken once.
func TestHandler_ServeHTTP_IdempotencyKeyOfSlowCommit(t *testing.T) {
	s := &sink{hold: make(chan struct{})}
	h := newHandler(t, httpapi.Config{Devices: devices, Wait: time.Millisecond}, s)
	send := func() int { return post(h, boxToken, senml, `[{"v":4500}]`, key("k")).StatusCode }
	if got := send(); got != http.StatusServiceUnavailable {
		t.Fatalf("%d", got)
	}
	if got := send(); got != http.StatusConflict {
		t.Errorf("while the first is at work: %d", got)
	}
	close(s.hold)
	got := http.StatusConflict
	for end := time.Now().Add(10 * time.Second); got == http.StatusConflict; got = send() {
		if time.Now().After(end) {
			t.Fatal("it is never answered")
		}
		<-time.After(time.Millisecond)
	}
	if got != 200 || len(s.deliveries()) != 1 {
		t.Errorf("%d, %d deliveries", got, len(s.deliveries()))
	}
}

// With no token at all, only this machine is heard, and no web page.
func TestHandler_ServeHTTP_NoTokens(t *testing.T) {
	from := func(remote, host, origin string) func(*http.Request) {
		return func(r *http.Request) {
			r.RemoteAddr, r.Host = remote, host
			if origin != "" {
				r.Header.Set("Origin", origin)
			}
		}
	}
	tests := []struct {
		name   string
		change func(*http.Request)
		status int
	}{
		{"here", from("127.0.0.1:5", "127.0.0.1:8080", ""), 200},
		{"here, by name", from("[::1]:5", "localhost:8080", ""), 200},
		{"here, v6", from("[::1]:5", "[::1]:8080", ""), 200},
		{"elsewhere", from("192.0.2.9:5", "127.0.0.1:8080", ""), 403},
		// a page that a browser on this machine has open
		{"a page", from("127.0.0.1:5", "127.0.0.1:8080", "https://pages.example"), 403},
		// a name that was bent to this machine
		{"rebound", from("127.0.0.1:5", "pages.example", ""), 403},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := post(newHandler(t, httpapi.Config{}, &sink{}), "", senml, good, tt.change); got.StatusCode != tt.status {
				t.Errorf("%d, want %d", got.StatusCode, tt.status)
			}
		})
	}
}

func TestHandler_ServeHTTP_OtherMethods(t *testing.T) {
	h := newHandler(t, httpapi.Config{}, &sink{})
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, httpapi.Path, nil))
	if w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") != "POST" {
		t.Errorf("%d %v", w.Code, w.Header())
	}
}

func TestNew_Refuses(t *testing.T) {
	for name, list := range map[string][]httpapi.Device{
		"short token": {{Name: "a", Token: "short", Sources: []string{"a"}}},
		"half a hash": {{Name: "a", Token: "sha256:00ff", Sources: []string{"a"}}},
		"no name":     {{Token: boxToken, Sources: []string{"a"}}},
		"no sources":  {{Name: "a", Token: boxToken}},
		"same token":  {devices[0], {Name: "b", Token: boxToken, Sources: []string{"b"}}},
	} {
		if _, err := httpapi.New(httpapi.Config{Devices: list}, &sink{}, nil, &sink{}); err == nil || home.Hint(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
}
