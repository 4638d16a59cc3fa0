package browsertest

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"weighbeam/dashboards"
	"weighbeam/home"
	"weighbeam/manual"
	"weighbeam/store"
)

// checking is a real store behind the forms, as the program has it.
type checking struct {
	*store.DB
	url string
	now time.Time
	// away makes the house unreachable while it is true: each connection breaks.
	away atomic.Bool
	// answerLost has the house take what is sent and break the connection before the answer.
	answerLost atomic.Bool
}

// serveChecks serves the forms over a fresh store with two cats.
func serveChecks(t *testing.T, units string) *checking {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	c := &checking{DB: db, now: time.Date(2026, 5, 4, 12, 0, 0, 0, time.UTC)}
	h := home.Household{Cats: []home.Cat{
		{ID: "plum", Name: "Plum", Sex: "female", Neutered: true, Born: time.Date(2015, 3, 1, 0, 0, 0, 0, time.UTC)}, {ID: "barnaby", Name: "Barnaby"}}}
	if err := db.SetHousehold(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	now := func() time.Time { return c.now }
	look := dashboards.Options{Now: now, Zone: time.UTC, Version: "test"}
	form := manual.New(db, manual.Options{Now: now, Zone: time.UTC, Units: units, Frame: dashboards.NewFrame(look), Diary: db,
		Vet: func() (string, string) { return "Mill Lane practice", "+44 20 7946 0000" }})
	mux := http.NewServeMux()
	mux.Handle("/check", form)
	mux.Handle("/check/", form)
	mux.Handle("/style.css", dashboards.New(nil, nil, look))
	mux.Handle("/icon.svg", dashboards.New(nil, nil, look))
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if c.away.Load() {
			panic(http.ErrAbortHandler)
		}
		if r.Method == http.MethodPost && c.answerLost.Load() {
			mux.ServeHTTP(httptest.NewRecorder(), r)
			panic(http.ErrAbortHandler)
		}
		mux.ServeHTTP(w, r)
	}))
	t.Cleanup(func() {
		srv.Close()
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	c.url = srv.URL
	return c
}

// checks are the checks of a cat that stand, newest first.
func (c *checking) checks(t *testing.T, cat string) []home.HomeCheck {
	t.Helper()
	all, err := c.Checks(context.Background(), cat, time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// shows waits until the page says the words somewhere.
func shows(t *testing.T, ctx context.Context, words string) {
	t.Helper()
	comesTrue(t, ctx, `document.querySelector("main").innerText.includes("`+words+`")`)
}

// A red flag is answered on the phone at once, also where the house cannot be
// reached, with what to say; it is stored when it can.
func TestCheck_RedFlag_GoesNowEvenAway(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"), chromedp.Focus(chromedp.CSS("input[name=flag][value=collapse]")), chromedp.KeyEvent(" "))
	c.away.Store(true)
	do(t, ctx, chromedp.Click(chromedp.CSS("button.main")))
	shows(t, ctx, "Mill Lane practice")
	page := text(t, ctx)
	if !strings.Contains(strings.ToLower(page), "now") || !strings.Contains(page, "+44 20 7946 0000") {
		t.Errorf("the page says:\n%s", page)
	}
	c.away.Store(false)
	do(t, ctx, chromedp.Evaluate[chromedp.Void](`dispatchEvent(new Event("online"))`))
	await(t, func() bool { return len(c.checks(t, "plum")) == 1 })
	if flags := c.checks(t, "plum")[0].RedFlags; len(flags) != 1 || flags[0] != home.Collapse {
		t.Errorf("stored %v", flags)
	}
}

// Breaths are counted by taps over the window, on a clock of the page's own; a
// phone that slept in between makes no count.
func TestCheck_Counting_ByTaps(t *testing.T) {
	ctx, c := tab(t), serveChecks(t, "kg")
	fake := `let fakeNow = 1000000, tick = () => {};
		Date.now = () => fakeNow;
		const realInterval = setInterval;
		setInterval = (f, ms) => ms === 100 ? (tick = f, 1) : realInterval(f, ms);
		globalThis.pass = (ms) => { fakeNow += ms; tick(); };`
	if _, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: fake}); err != nil {
		t.Fatal(err)
	}
	do(t, ctx, chromedp.Navigate(c.url+"/check/plum?open=all"))
	tapper := `[...document.querySelectorAll(".aid")].find((a) => a.dataset.field === "breaths").querySelector(".tapper")`
	count := `(() => { const b = ` + tapper + `; b.click(); for (let i = 0; i < 12; i++) { pass(1200); pass(1200); b.click(); } pass(1300); return document.getElementById("breaths").value; })()`
	if got := get(t, ctx, chromedp.Evaluate[string](count)); got != "12" {
		t.Errorf("twelve taps make %q", got)
	}
	slept := `(() => { document.getElementById("breaths").value = ""; const b = ` + tapper + `; b.click(); pass(9000); return document.getElementById("breaths").value + "/" + b.classList.contains("on"); })()`
	if got := get(t, ctx, chromedp.Evaluate[string](slept)); got != "/false" {
		t.Errorf("a phone that slept counts %q", got)
	}
}

// await waits for a condition, at most a minute.
func await(t *testing.T, ok func() bool) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for deadline := time.Now().Add(time.Minute); !ok(); <-tick.C {
		if time.Now().After(deadline) {
			t.Fatal("it never came true")
		}
	}
}
