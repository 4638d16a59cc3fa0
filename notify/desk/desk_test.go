package desk

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// office is a page over a health that the test sets.
type office struct {
	health notify.Health
	trial  error
	asking int // browsers
	tried  []string
}

func (o *office) page(names ...string) http.Handler {
	var ways []Way
	for _, name := range names {
		ways = append(ways, Way{Channel: notify.Channel{Name: name, Least: home.Book}, Kind: "mail", Browser: name == "browser"})
	}
	return New(Options{
		Ways: func() []Way { return ways }, Browsers: func(string) int { return o.asking }, PushKey: "the-key", Policy: "script-src 'self'", Health: func() notify.Health { return o.health }, Trusted: "http://cats.lan",
		Try: func(_ context.Context, channel string) error {
			o.tried = append(o.tried, channel)
			return o.trial
		},
		Frame: func(w http.ResponseWriter, status int, title string, body template.HTML) {
			w.WriteHeader(status)
			fmt.Fprintf(w, "<title>%s</title>%s", title, body)
		},
	})
}

func ask(h http.Handler, r *http.Request) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func press(channel, origin string) *http.Request {
	r := httptest.NewRequest(http.MethodPost, "http://127.0.0.1/notices/try", strings.NewReader(url.Values{"channel": {channel}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Origin", origin)
	return r
}

func TestDesk_Page(t *testing.T) {
	at := func(h int) time.Time { return noon.Add(time.Duration(h) * time.Hour) }
	for _, tt := range []struct {
		name   string
		query  string
		health notify.Health
		want   []string
		not    []string
	}{
		{"nothing happened yet", "", notify.Health{}, []string{"what needs an appointment or is more urgent", "never", "Send a trial message over ada"}, []string{"does not work", "role=\"status\""}},
		{"it took the last one", "", notify.Health{Channels: []notify.ChannelHealth{{Channel: "ada", Took: at(2), Failed: at(1), Why: "gone"}}},
			[]string{"3 Mar 2025, 14:00", "2025-03-03T13:00:00Z"}, []string{"does not work", "gone"}},
		{"it did not, and things wait", "", notify.Health{Channels: []notify.ChannelHealth{{Channel: "ada", Took: at(1), Failed: at(2), Why: "it is <down>", Waiting: 4}}},
			[]string{"does not work now: it is &lt;down&gt;.", "Due and waiting</dt><dd>4"}, []string{"<down>"}},
		{"a trial went well", "?tried=ada", notify.Health{Channels: []notify.ChannelHealth{{Channel: "ada", Took: at(1)}}}, []string{"ada took the trial."}, nil},
		{"a trial failed", "?tried=ada", notify.Health{Channels: []notify.ChannelHealth{{Channel: "ada", Failed: at(1), Why: "it answered HTTP 500"}}},
			[]string{"ada did not take the trial: it answered HTTP 500."}, nil},
		// Nobody can make the page say something of a channel that there is not.
		{"a trial of another", "?tried=bob", notify.Health{}, nil, []string{"bob"}},
		{"the store is away", "", notify.Health{Store: "settle: disk full"}, []string{"role=\"alert\""}, []string{"disk full"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o := &office{health: tt.health}
			w := ask(o.page("ada"), httptest.NewRequest(http.MethodGet, "/notices"+tt.query, nil))
			body := w.Body.String()
			for _, s := range tt.want {
				if !strings.Contains(body, s) {
					t.Errorf("%q is not in\n%s", s, body)
				}
			}
			for _, s := range tt.not {
				if strings.Contains(body, s) {
					t.Errorf("%q is in\n%s", s, body)
				}
			}
		})
	}
}

func TestDesk_Page_WithoutChannels(t *testing.T) {
	w := ask((&office{}).page(), httptest.NewRequest(http.MethodGet, "/notices", nil))
	if body := w.Body.String(); !strings.Contains(body, "Nobody") || strings.Contains(body, "<form") {
		t.Error(body)
	}
}

// A channel to browsers is offered to this one; where none asks yet, there is
// nothing to try, and the page says that nobody is told.
func TestDesk_Page_Browsers(t *testing.T) {
	for asking, want := range map[int]struct{ some, tries bool }{0: {false, false}, 2: {true, true}} {
		w := ask((&office{asking: asking}).page("browser"), httptest.NewRequest(http.MethodGet, "/notices", nil))
		body := w.Body.String()
		if strings.Contains(body, "Nobody") == want.some || strings.Contains(body, "<form") != want.tries ||
			!strings.Contains(body, fmt.Sprintf("are told: %d.", asking)) || !strings.Contains(body, `data-key="the-key"`) {
			t.Errorf("%d browsers:\n%s", asking, body)
		}
		if w.Header().Get("Content-Security-Policy") != "script-src 'self'" {
			t.Error("the script of the page may not run")
		}
	}
}

func TestDesk_Try(t *testing.T) {
	for _, tt := range []struct {
		name    string
		channel string
		origin  string
		trial   error
		status  int
		tried   int
	}{
		{"from the page", "ada", "http://127.0.0.1", nil, http.StatusSeeOther, 1},
		// Behind a proxy the page has another origin than the program thinks.
		{"from the page behind a proxy", "ada", "http://cats.lan", nil, http.StatusSeeOther, 1},
		// A page of somebody else in the same browser must not make the house send.
		{"from elsewhere", "ada", "http://elsewhere.example", nil, http.StatusForbidden, 0},
		// The page says how it failed.
		{"it fails", "ada", "http://127.0.0.1", notify.Unreached("down"), http.StatusSeeOther, 1},
		{"no such channel", "fax", "http://127.0.0.1", fmt.Errorf("channel: %w", home.ErrNotFound), http.StatusNotFound, 1},
		{"a fault of the program", "ada", "http://127.0.0.1", errors.New("hunter2"), http.StatusInternalServerError, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			o := &office{trial: tt.trial}
			w := ask(o.page("ada"), press(tt.channel, tt.origin))
			if w.Code != tt.status || len(o.tried) != tt.tried {
				t.Errorf("status %d, tried %q:\n%s", w.Code, o.tried, w.Body)
			}
			if w.Code == http.StatusSeeOther && w.Header().Get("Location") != "/notices?tried=ada#way-ada" {
				t.Errorf("sent to %q", w.Header().Get("Location"))
			}
			if strings.Contains(w.Body.String(), "hunter2") {
				t.Error("it shows what an error says")
			}
		})
	}
}
