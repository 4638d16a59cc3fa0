package dashboards_test

import (
	"bufio"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// visitor is a reader without script who follows what a page answers.
type visitor struct {
	t *testing.T
	h http.Handler
}

func bench(t *testing.T) (*fakehouse.House, visitor) {
	h := fakehouse.Lived()
	return h, visitor{t, dashboards.New(h, h, dashboards.Options{Now: func() time.Time { return fakehouse.Now }, Zone: time.UTC, Naming: true, Bench: h})}
}

func (v visitor) ask(method, path string, form url.Values) *httptest.ResponseRecorder {
	v.t.Helper()
	r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	v.h.ServeHTTP(w, r)
	return w
}

func (v visitor) sees(w *httptest.ResponseRecorder, status int, words ...string) {
	v.t.Helper()
	if w.Code != status {
		v.t.Errorf("status %d, want %d", w.Code, status)
	}
	for _, want := range words {
		if !strings.Contains(html.UnescapeString(w.Body.String()), want) {
			v.t.Errorf("%q is not on the page:\n%s", want, w.Body)
		}
	}
}

const calibrateAt = "/sources/hall-box/calibrate"

// Empty, a mass, the verdict, kept: each step stands in the address, and the scale's
// page then says how true it is.
func TestCalibrate_Pages_StepByStep(t *testing.T) {
	h, v := bench(t)
	v.sees(v.ask("GET", calibrateAt, nil), 200, "6.2000 kg, at rest", "First, empty", "Read the empty scale")
	w := v.ask("GET", calibrateAt+"?read=1", nil)
	first := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther || !strings.Contains(first, "p=0%2C0") {
		t.Fatalf("status %d, to %q", w.Code, first)
	}
	v.sees(v.ask("GET", first, nil), 200, "nothing", "6.2002 kg", "The next mass", "a sealed pack")
	// The same rest is not read twice.
	v.sees(v.ask("GET", first+"&read=1&mass=5&unit=kg&kind=weight", nil), 200, "this is the load that was read before", `value="5"`)
	later := fakehouse.Now.Add(time.Minute)
	h.Says = &home.LiveLoad{Kg: 11.15, At: later, Rest: home.KnownLoad{Load: []float64{11.15}, From: later.Add(-6 * time.Second), To: later}}
	v.sees(v.ask("GET", first+"&read=1&mass=five&unit=kg&kind=pack", nil), 422, "is no known mass", `value="five"`, `value="pack" checked`)
	w = v.ask("GET", first+"&read=1&mass=5,0&unit=kg&kind=weight&within=2", nil)
	second := w.Header().Get("Location")
	v.sees(v.ask("GET", second, nil), 200, "5.000 kg ± 1.2 g", "It is good to 5 g between 0 and 5 kg", "1.01000 ± 0.00040", "Two loads show no bend", "Correct the scale")
	q, err := url.ParseQuery(second[strings.Index(second, "?")+1:])
	if err != nil {
		t.Fatal(err)
	}
	w = v.ask("POST", calibrateAt, url.Values{"p": q["p"], "since": {"always"}, "by": {" Ada "}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/sources/hall-box#calibrations" {
		t.Fatalf("status %d, to %q:\n%s", w.Code, w.Header().Get("Location"), w.Body)
	}
	c := h.Calibrated[len(h.Calibrated)-1]
	if c.Source != "hall-box" || c.By != "Ada" || !c.From.Equal(home.Always) || len(c.Points) != 2 || c.Points[1].Kg != 5 || len(c.Points[1].Load) != 0 {
		t.Errorf("kept %+v", c)
	}
	v.sees(v.ask("GET", "/sources/hall-box", nil), 200, "good to 5 g between 0 and 5 kg", "for all loads", "Ada", "Calibrate it")
}

// A scale that moves, is silent, or gives points that make no line says so, and
// what was read so far stays.
func TestCalibrate_Pages_SayWhatIsWrong(t *testing.T) {
	h, v := bench(t)
	h.Says = &home.LiveLoad{Moving: "Nothing has come from this scale for ten minutes."}
	v.sees(v.ask("GET", calibrateAt+"?read=1", nil), 200, "nothing. Nothing has come", "Not read yet", "ten minutes")
	h.FitErr = home.Hinted("calibrate", "Put on a mass that the scale can feel.", "a line needs two different values")
	two := "p=0,0,1745000000000000,1745000006000000,6.2&p=5,0.001,1745000060000000,1745000066000000,6.2"
	v.sees(v.ask("GET", calibrateAt+"?"+two, nil), 200, "A line needs two different values.", "scale can feel", "take it out")
	q, _ := url.ParseQuery(two)
	v.sees(v.ask("POST", calibrateAt, q), 422, "Not kept. A line needs", `name="p" value="5,0.001`)
	// What is no point in an address is passed over.
	v.sees(v.ask("GET", calibrateAt+"?p=1,2&p=a,b,c,d,e&p=NaN,0,0,0,1&p=-5,0,0,1,1", nil), 200, "First, empty")
	// Another site cannot make a browser do it.
	r := httptest.NewRequest("POST", calibrateAt, strings.NewReader(q.Encode()))
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := httptest.NewRecorder()
	if v.h.ServeHTTP(w, r); w.Code != http.StatusForbidden {
		t.Errorf("from another site: %d", w.Code)
	}
}

// Drift between two calibrations is told where it is more than their uncertainty.
func TestScale_Page_TellsDrift(t *testing.T) {
	h, v := bench(t)
	c := home.Calibration{Source: "hall-box", At: fakehouse.Now.AddDate(0, -6, 0), From: home.Always, Gain: 1, GainSD: 0.0005, ToKg: 5}
	same, off := c, c
	same.At, same.From, same.Gain = c.At.AddDate(0, 1, 0), c.At, 1.0004
	off.At, off.From, off.Gain = c.At.AddDate(0, 2, 0), c.At, 1.012
	h.Calibrated = []home.Calibration{c, same, off}
	h.Visited = nil
	for day, g := range []float64{-4, 9, -31} {
		at := fakehouse.Now.AddDate(0, 0, -day-1)
		h.Visited = append(h.Visited, home.Visit{Source: "hall-box", Start: at, End: at, Event: home.Knocked, CreptG: g - 2},
			home.Visit{Source: "hall-box", Start: at.Add(time.Minute), End: at.Add(time.Minute), Event: home.Knocked, CreptG: 2})
	}
	v.sees(v.ask("GET", "/sources/hall-box", nil), 200, "moves by itself by", "9 g on a middling day, 31 g at most (3 days)", "no change: +2 g, less than can be told", "+46 ± 6 g of 4 kg")
}

// The page of one event draws its load, with what was read of it, and says it in
// words for who cannot see it.
func TestVisit_Page_DrawsItsTrace(t *testing.T) {
	h, v := bench(t)
	at := fakehouse.Now.Add(-time.Hour)
	h.Visited = []home.Visit{
		{Source: "hall-box", Start: at, End: at.Add(40 * time.Second), Event: home.CatVisit, MassKg: 4.3, SDKg: 0.01, Quality: 0.6, Reasons: []string{"moving"}, Whose: home.Unclear, Gain: 1.02},
		{Source: "hall-box", Start: at.Add(time.Minute), End: at.Add(2 * time.Minute), Event: home.Scooped, HasLeft: true, LeftG: -80},
	}
	page := visitAddress(h.Visited[0])
	v.sees(v.ask("GET", "/sources/hall-box", nil), 200, page, page+"/trace.svg?size=narrow", "something taken out")
	v.sees(v.ask("GET", page, nil), 200, "Weighing", "moving", "4.30 kg", "times 1.0200", "Say whose it was", "at most 4.4", page+"/trace.svg")
	svg := v.ask("GET", page+"/trace.svg", nil)
	v.sees(svg, 200, "<svg", "read as 4.30 kg", "empty before")
	if svg.Header().Get("Content-Type") != "image/svg+xml" {
		t.Errorf("sent as %s", svg.Header().Get("Content-Type"))
	}
	v.sees(v.ask("GET", visitAddress(h.Visited[1]), nil), 200, "Something taken out", "−80 g")
	for _, wrong := range []string{"/sources/hall-box/visits/1", "/sources/hall-box/visits/noon", "/sources/hall-box/visits/1/trace.svg"} {
		v.sees(v.ask("GET", wrong, nil), 404)
	}
}

func visitAddress(one home.Visit) string {
	return "/sources/" + one.Source + "/visits/" + strconv.FormatInt(one.Start.UnixMicro(), 10)
}

// A page may follow what the scale says; script is allowed on that page alone, and
// without it the page says the same once.
func TestCalibrate_Live_Streams(t *testing.T) {
	h, v := bench(t)
	server := httptest.NewServer(v.h)
	defer server.Close()
	resp := open(t, server.URL+"/sources/hall-box/live")
	if kind := resp.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Fatalf("%s, status %d", kind, resp.StatusCode)
	}
	r := bufio.NewReader(resp.Body)
	events(t, r, "6.2000 kg, at rest")
	events(t, r, "6.2000 kg, at rest") // and goes on
	if policy := v.ask("GET", calibrateAt, nil).Header().Get("Content-Security-Policy"); strings.Contains(policy, "unsafe") || !strings.Contains(policy, "connect-src 'self'") {
		t.Errorf("policy is %q", policy)
	}
	v.sees(v.ask("GET", "/live.js", nil), 200, "EventSource")
	resp.Body.Close()
	server.Close() // no stream reads the house any more
	h.Err = home.ErrNotFound
	v.sees(v.ask("GET", "/sources/hall-box/live", nil), 404)
}
