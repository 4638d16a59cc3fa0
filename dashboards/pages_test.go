package dashboards_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

func serve(h *fakehouse.House, change ...func(*dashboards.Options)) http.Handler {
	o := dashboards.Options{Now: func() time.Time { return fakehouse.Now }, Zone: time.UTC}
	for _, c := range change {
		c(&o)
	}
	return dashboards.New(h, h, o)
}

func get(h http.Handler, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
	return w
}

func says(t *testing.T, w *httptest.ResponseRecorder, status int, words ...string) {
	t.Helper()
	if w.Code != status {
		t.Errorf("status is %d, want %d", w.Code, status)
	}
	for _, s := range words {
		if !strings.Contains(w.Body.String(), s) {
			t.Errorf("the page does not say %q", s)
		}
	}
}

func TestHouse_Lived_SaysWhoNeedsWhatAndWhy(t *testing.T) {
	w := get(serve(fakehouse.Lived()), "/")
	says(t, w, 200,
		"Call the practice today about Plum.",
		// Each figure with its interval, with real minus signs.
		"4.28 kg", "4.26 to 4.30", "−2.1 %", "−2.6 to −1.6", "30 a minute", "28 to 32",
		// What is open and what is not known.
		"Call the practice today", "Weight is falling", "Eight to ten counts make a usual",
		// Scales, notices with the reason, and what could not be read.
		"A scale has gone silent", "See to it when you can", "4 days ago",
		"Only told in the weekly letter", "Tried 2 times", "1 reminder more", "2 messages", "1 topic",
		home.Caution)
	body := w.Body.String()
	if strings.Index(body, "Plum") > strings.Index(body, "Mustard") || strings.Index(body, "Mustard") > strings.Index(body, "Barnaby") {
		t.Error("the cats are not in the order of their urgency")
	}
	if strings.Contains(body, "could not be delivered") {
		t.Error("a notice older than a week is listed")
	}
}

// With nothing open the page says what was found, and never that a cat is well.
func TestHouse_NothingOpen_NeverSaysWell(t *testing.T) {
	h := fakehouse.Lived()
	h.Found = nil
	w := get(serve(h), "/")
	says(t, w, 200, "Nothing was found, but not everything is known.")
	for _, id := range []string{"barnaby", "mustard", "plum"} {
		o := h.Outlooks[id]
		o.Unknown = nil
		h.Outlooks[id] = o
	}
	says(t, get(serve(h), "/"), 200, "Nothing was found that needs you.")
	h.Found = []home.Finding{fakehouse.Silent}
	says(t, get(serve(h), "/"), 200, "Nothing was found about the cats, but a scale needs a look.")
	for _, word := range []string{"healthy", "all right", "is fine", "is well"} {
		if strings.Contains(strings.ToLower(w.Body.String()), word) {
			t.Errorf("the page says %q", word)
		}
	}
}

// The first words of the page are the most urgent.
func TestHouse_Headline_SaysTheMostUrgent(t *testing.T) {
	for _, c := range []struct {
		urgencies []home.Urgency // of barnaby, mustard, plum; "" for nothing open
		want      string
	}{
		{[]home.Urgency{home.Book, home.Now, home.Today}, "Mustard: go to a vet now. Call the practice today about Plum."},
		{[]home.Urgency{home.Now, home.Book, home.Now}, "Barnaby and Plum: go to a vet now."},
		{[]home.Urgency{home.Today, home.Today, home.Today}, "Call the practice today about Barnaby, Mustard and Plum."},
		{[]home.Urgency{home.Book, home.Mention, home.Today}, "Call the practice today about Plum."},
		{[]home.Urgency{home.Book, home.Mention, ""}, "2 of 3 cats need a look."},
		{[]home.Urgency{"", "", home.Mention}, "Plum needs a look."},
	} {
		h := fakehouse.Lived()
		h.Found = nil
		for i, u := range c.urgencies {
			if u != "" {
				h.Found = append(h.Found, home.Finding{Cat: h.Home.Cats[i].ID, Sign: home.WeightFalling, Urgency: u, Raised: fakehouse.Now})
			}
		}
		says(t, get(serve(h), "/"), 200, "<h1>"+c.want+"</h1>")
	}
}

func TestHouse_Empty_SaysHowToBegin(t *testing.T) {
	w := get(serve(fakehouse.Empty(), func(o *dashboards.Options) { o.Broker = "10.0.0.5:2883" }), "/")
	says(t, w, 200, "Say who lives here", "mosquitto_pub -h 10.0.0.5 -p 2883", "Let a scale speak", "Do a first home check")
}

// Nobody has weighed, counted or checked yet: every page still answers.
func TestPages_CatWithoutReadings_SayWhatIsMissing(t *testing.T) {
	h := fakehouse.Empty()
	h.Home.Cats = []home.Cat{{ID: "new", Name: "New"}}
	s := serve(h)
	says(t, get(s, "/"), 200, "Not enough is known yet to find anything", "not known yet", "never", "none within a year")
	says(t, get(s, "/cats/new"), 200, "No weighing in this period", "No sleeping breaths counted")
	says(t, get(s, "/cats/new?period=all"), 200, "No weighing in this period")
	says(t, get(s, "/cats/new/sheet"), 200, "No weighing in this period")
	for _, f := range []string{"weight.svg", "weight.png", "weight.csv", "breaths.svg?period=all"} {
		says(t, get(s, "/cats/new/"+f), 200)
	}
}

func TestFinding_Page_HoldsFiguresEvidenceAndNotices(t *testing.T) {
	w := get(serve(fakehouse.Lived()), "/findings/"+fakehouse.Falling.ID())
	says(t, w, 200, "Book a visit", "about 12 Feb 2026", "1 Feb 2026 to 20 Feb 2026", "−0.54 % a week", "−0.71 to −0.38",
		"over 99 %", "108 readings", "Only one of the two boxes", "/cats/mustard/weight.svg?from=",
		"could not be delivered", "The mail server refused", "What would change")
	says(t, get(serve(fakehouse.Lived()), "/findings/"+fakehouse.Gone.ID()), 200, "Closed: He was weighed again.")
}

// In a house that weighs in pounds every weight is in pounds.
func TestPages_InPounds_ShowPounds(t *testing.T) {
	s := serve(fakehouse.Lived(), func(o *dashboards.Options) { o.Units = "lb" })
	says(t, get(s, "/cats/mustard"), 200, "9.44 lb", "Middle, lb")
	says(t, get(s, "/findings/"+fakehouse.Falling.ID()), 200, "9.77 lb before, 9.44 lb on 26 Mar 2026")
	if strings.Contains(get(s, "/cats/mustard").Body.String(), " kg") {
		t.Error("a weight is in kg")
	}
	says(t, get(s, "/cats/mustard/weight.csv"), 200, ",kg,") // files keep the program's own unit
}

// Houses of one process, each in its own zone.
func TestPages_OfTwoHouses_EachByItsOwnClock(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, zone := range []*time.Location{time.UTC, vienna, time.UTC} {
		s := serve(fakehouse.Lived(), func(o *dashboards.Options) { o.Zone = zone })
		said = append(said, get(s, "/set-aside").Body.String())
	}
	if said[0] != said[2] || said[0] == said[1] {
		t.Errorf("by Greenwich, Vienna and Greenwich again it is\n%s\n%s\n%s", said[0], said[1], said[2])
	}
}

func TestPages_NotThere_AreNotFound(t *testing.T) {
	s := serve(fakehouse.Lived())
	for _, path := range []string{"/nowhere", "/cats/ghost", "/cats/ghost/sheet", "/cats/plum/weight.gif", "/cats/plum/temper.svg", "/findings/x/y/z", "/findings/", "/sources/ghost"} {
		says(t, get(s, path), 404, "There is nothing at this address")
	}
	w := httptest.NewRecorder()
	s.ServeHTTP(w, httptest.NewRequest("POST", "/", nil))
	if w.Code != http.StatusMethodNotAllowed {
		t.Errorf("POST answers %d, want 405: these pages only read", w.Code)
	}
}

func TestPages_StoreFails_SayWhatToDo(t *testing.T) {
	for _, path := range []string{"/", "/cats/plum", "/cats/plum/weight.svg", "/cats/plum/weight.csv", "/cats/plum/sheet", "/set-aside", "/sources/bowl", "/findings/" + fakehouse.Rising.ID()} {
		h := fakehouse.Lived()
		h.Err = home.Hinted("read", "Is the disk full?", "no luck")
		w := get(serve(h), path)
		says(t, w, 500, "Is the disk full?")
		if strings.Contains(w.Body.String(), "no luck") {
			t.Errorf("%s shows the inner error", path)
		}
		h.Err = errors.New("plain")
		says(t, get(serve(h), path), 500, "the log of the program says more")
	}
}

// Nothing that people or devices write becomes markup.
func TestPages_WithMarkupInWords_EscapeIt(t *testing.T) {
	const evil = `<script>x</script>"'><b>`
	h := fakehouse.Lived()
	for i := range h.Home.Cats {
		h.Home.Cats[i].Name = evil
	}
	f := fakehouse.Falling
	f.Text, f.Warnings, f.RateUnit = evil, []string{evil}, evil
	h.Found = []home.Finding{f}
	h.Told = []home.Notice{{Finding: f.ID(), Channel: evil, Subject: evil, Body: evil, Reason: evil, Created: fakehouse.Now, State: evil}}
	h.Aside = []home.SetAside{{Topic: evil, Reason: evil, Payload: []byte(evil), Way: evil}}
	h.Checked[1].Note, h.Checked[1].By = evil, evil
	s := serve(h, func(o *dashboards.Options) { o.Notes = func() []string { return []string{evil} } })
	for _, path := range []string{"/", "/cats/mustard", "/cats/mustard/sheet", "/cats/mustard/weight.svg", "/findings/" + f.ID(), "/set-aside"} {
		w := get(s, path)
		says(t, w, 200, "script")
		body := strings.ReplaceAll(w.Body.String(), `<script src="/spots.js" defer></script>`, "") // our own
		if strings.Contains(body, "<script") || strings.Contains(w.Body.String(), "<b>\n") || strings.Contains(w.Body.String(), evil) {
			t.Errorf("%s lets markup through", path)
		}
	}
}

// Ten years of five cats: a page and a picture stay small enough for a slow line.
func TestPages_TenYearsOfFiveCats_StaySmall(t *testing.T) {
	s := serve(decade())
	for path, most := range map[string]int{"/": 60 << 10, "/cats/cat-0?period=all": 60 << 10, "/cats/cat-0/weight.svg?period=all": 150 << 10, "/cats/cat-0/sheet": 60 << 10} {
		w := get(s, path)
		says(t, w, 200)
		if n := w.Body.Len(); n > most {
			t.Errorf("%s has %d bytes, want at most %d", path, n, most)
		}
	}
}

// How its battery is, and how good it was found to be, stands with each scale that says so.
func TestHouse_Sources_BatteryAndCalibration(t *testing.T) {
	h := fakehouse.Lived()
	s := serve(h, func(o *dashboards.Options) { o.Bench = h })
	says(t, get(s, "/"), 200, "<td>12 %: charge it</td>", "Battery")
	says(t, get(s, "/sources/attic-box"), 200, "<dt>Battery</dt><dd>12 %: charge it</dd>")
	h.Calibrated = []home.Calibration{{Source: "attic-box", From: fakehouse.Now, Gain: 1, RepeatabilityKg: 0.001, ToKg: 5}}
	says(t, get(s, "/"), 200, "By its calibration", "good to 3 g between 0 and 5 kg")
	h.Status = h.Status[:1]
	if page := get(s, "/").Body.String(); strings.Contains(page, "Battery") {
		t.Error("a column for batteries that nothing has")
	}
}

// decade is a house with ten years of weighings of five cats, five a day.
func decade() *fakehouse.House {
	h := fakehouse.Empty()
	h.Trends = map[string][]home.TrendPoint{}
	h.Home.Scales = []home.Scale{{ID: "a", Kind: home.LitterBox}, {ID: "b", Kind: home.LitterBox}}
	for c := range 5 {
		id := fmt.Sprintf("cat-%d", c)
		h.Home.Cats = append(h.Home.Cats, home.Cat{ID: id, Name: "Cat " + id})
		for i := range 3652 * 5 {
			at := fakehouse.Now.Add(-time.Duration(i) * 24 * time.Hour / 5)
			kg := 4 + 0.1*float64(i%37)/37 + 0.2*float64(i%1999)/1999
			h.Weighed = append(h.Weighed, home.Weighing{Cat: id, Source: string(rune('a' + i%2)), Time: at, Kg: kg, SDKg: 0.01})
			if i%5 == 0 {
				h.Trends[id] = append(h.Trends[id], home.TrendPoint{Time: at, Value: kg, Lo: kg - 0.02, Hi: kg + 0.02})
			}
		}
	}
	h.Reverse()
	return h
}

func BenchmarkPages_TenYearsOfFiveCats(b *testing.B) {
	s := serve(decade())
	for name, path := range map[string]string{
		"house": "/", "cat": "/cats/cat-0?period=all", "chart": "/cats/cat-0/weight.svg?period=all",
		"spark": "/cats/cat-0/weight.svg?size=spark", "sheet": "/cats/cat-0/sheet",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				get(s, path)
			}
		})
	}
}
