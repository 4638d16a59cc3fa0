package push

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify/push/pushtest"
)

// desk is what browsers speak to, over a store in memory.
func desk(t *testing.T, store *shelf) (http.Handler, *Book) {
	t.Helper()
	book, err := OpenBook(t.Context(), store)
	if err != nil {
		t.Fatal(err)
	}
	return Ask(AskOptions{Book: book, Allows: Config{Services: []string{"push.example.org"}}.Allows, Channels: []string{"ada", "bob"},
		Now: func() time.Time { return time.Unix(1_700_000_000, 0) }}), book
}

// wire is a subscription as the script of the page sends it.
func wire(s home.Subscription, old string) string {
	b, _ := json.Marshal(map[string]any{"channel": s.Channel, "old": old, "endpoint": s.Endpoint, "keys": map[string]string{"p256dh": s.Key, "auth": s.Auth}})
	return string(b) // it cannot fail on strings
}

func post(h http.Handler, path, body, origin string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1"+path, strings.NewReader(body))
	r.Header.Set("Origin", origin)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

const here = "http://127.0.0.1"

func TestAsk_Begin(t *testing.T) {
	good := pushtest.NewBrowser(t).Subscription("https://push.example.org/1", "ada")
	with := func(change func(*home.Subscription)) string {
		s := good
		change(&s)
		return wire(s, "")
	}
	for _, tt := range []struct {
		name, body, origin string
		fail               error
		status             int
		says               string
	}{
		{"from the page", wire(good, ""), here, nil, 204, ""},
		// Another page in the same browser must not subscribe anybody.
		{"from elsewhere", wire(good, ""), "http://evil.example", nil, 403, ""},
		{"a host that nobody allowed", with(func(s *home.Subscription) { s.Endpoint = "https://192.168.1.1/admin" }), here, nil, 422, "push_services"},
		{"in the clear", with(func(s *home.Subscription) { s.Endpoint = "http://push.example.org/1" }), here, nil, 422, "https"},
		{"no such channel", with(func(s *home.Subscription) { s.Channel = "eve" }), here, nil, 422, "no such channel"},
		{"keys of nobody", with(func(s *home.Subscription) { s.Key = "AAAA" }), here, nil, 422, "P-256"},
		{"no JSON", "channel=ada", here, nil, 400, "could not be read"},
		{"too much", `{"channel":"` + strings.Repeat("a", 9000) + `"}`, here, nil, 400, "could not be read"},
		// The store is away: nothing is promised, and its error is not shown.
		{"the store fails", wire(good, ""), here, errors.New("disk hunter2"), 503, "Try again"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			h, book := desk(t, &shelf{})
			book.store.(*shelf).fail = tt.fail
			w := post(h, "/notices/push", tt.body, tt.origin)
			if w.Code != tt.status || !strings.Contains(w.Body.String(), tt.says) || strings.Contains(w.Body.String(), "hunter2") {
				t.Errorf("%d %s", w.Code, w.Body)
			}
			if kept := len(book.Of("ada")); kept == 1 != (tt.status == 204) {
				t.Errorf("%d are kept", kept)
			}
		})
	}
}

// A browser changes its channel, gets a new endpoint from its push service, and
// goes: the house always knows it once, or not at all.
func TestAsk_LifeOfABrowser(t *testing.T) {
	store := &shelf{}
	h, book := desk(t, store)
	one := pushtest.NewBrowser(t).Subscription("https://push.example.org/1", "ada")
	two := pushtest.NewBrowser(t).Subscription("https://push.example.org/2", "")
	say := func(path, body string, want int) string {
		t.Helper()
		w := post(h, path, body, here)
		if w.Code != want {
			t.Fatalf("%s: %d %s", path, w.Code, w.Body)
		}
		return strings.TrimSpace(w.Body.String())
	}
	whose := func(s home.Subscription) string { return say("/notices/push/whose", wire(s, ""), 200) }
	say("/notices/push", wire(one, ""), 204)
	if got := whose(one); got != `{"channel":"ada"}` {
		t.Errorf("whose: %s", got)
	}
	one.Channel = "bob"
	say("/notices/push", wire(one, ""), 204)
	say("/notices/push", wire(two, one.Endpoint), 204) // the worker does not know the channel
	if whose(one) != `{"channel":""}` || whose(two) != `{"channel":"bob"}` || len(book.Of("bob")) != 1 || len(store.all) != 1 {
		t.Errorf("after a new endpoint: %+v", store.all)
	}
	say("/notices/push/end", wire(two, ""), 204)
	say("/notices/push/end", wire(two, ""), 204) // pressed twice
	if len(store.all) != 0 || len(book.Of("bob")) != 0 {
		t.Errorf("after the end: %+v", store.all)
	}
	// An endpoint that was never known brings nobody in.
	say("/notices/push", wire(two, "https://push.example.org/99"), 422)
}

func TestBook_Add_RefusesTooMany(t *testing.T) {
	h, book := desk(t, &shelf{})
	for i := range mostBrowsers {
		if err := book.Add(t.Context(), pushtest.NewBrowser(t).Subscription(fmt.Sprintf("https://push.example.org/%d", i), "ada")); err != nil {
			t.Fatal(err)
		}
	}
	w := post(h, "/notices/push", wire(pushtest.NewBrowser(t).Subscription("https://push.example.org/x", "ada"), ""), here)
	if w.Code != http.StatusConflict || !strings.Contains(w.Body.String(), "no longer used") {
		t.Errorf("%d %s", w.Code, w.Body)
	}
	// One that is known may still change its channel.
	if w := post(h, "/notices/push", wire(pushtest.NewBrowser(t).Subscription("https://push.example.org/3", "bob"), ""), here); w.Code != 204 {
		t.Errorf("%d %s", w.Code, w.Body)
	}
}

func TestAsk_Scripts(t *testing.T) {
	h, _ := desk(t, &shelf{})
	for _, path := range []string{"/notices/push.js", "/notices/worker.js"} {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
		if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), "text/javascript") || w.Body.Len() == 0 {
			t.Errorf("%s: %d %v", path, w.Code, w.Header())
		}
	}
}
