package app

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// A bench over HTTP answers as one over the store does: what is read, what is kept,
// and what is wrong, with what to do about it.
func TestHTTPBench_AnswersAsTheStore(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	if err := db.SetHousehold(t.Context(), home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}); err != nil {
		t.Fatal(err)
	}
	var loads []home.Reading
	for i := range 600 {
		kg := 6.0
		if i >= 300 {
			kg = 8.08
		}
		loads = append(loads, home.Reading{Source: "box-1", Quantity: home.Load, Time: noon.Add(time.Duration(i) * 200 * time.Millisecond), Value: kg})
	}
	if _, err := db.Append(t.Context(), home.Batch{Readings: loads}); err != nil {
		t.Fatal(err)
	}
	end := loads[len(loads)-1].Time
	server := httptest.NewServer(calibrateAPI(StoreBench{Store: db, Now: func() time.Time { return end }}))
	defer server.Close()
	b := HTTPBench{URL: server.URL}
	live, err := b.Live(t.Context(), "box-1")
	if err != nil || live.Kg != 8.08 || live.Moving != "" || len(live.Rest.Load) == 0 {
		t.Errorf("live: %+v, %v", live, err)
	}
	if _, err := b.Live(t.Context(), "box-9"); !errors.Is(err, home.ErrNotFound) || home.Hint(err) == "" {
		t.Errorf("a scale that is not there: %v", err)
	}
	ask := home.Calibration{Source: "box-1", By: "Ada", Points: []home.KnownLoad{
		{From: noon.Add(10 * time.Second), To: noon.Add(40 * time.Second)},
		{Kg: 2, SDKg: 0.001, From: noon.Add(70 * time.Second), To: noon.Add(100 * time.Second)}}}
	if fit, err := b.Fit(t.Context(), ask, false); err != nil || fit.Gain < 0.961 || fit.Gain > 0.962 {
		t.Errorf("tried: %+v, %v", fit, err)
	}
	fit, err := b.Fit(t.Context(), ask, true)
	kept, err2 := db.Calibrations(t.Context(), "box-1")
	if err != nil || err2 != nil || len(kept) != 1 || kept[0].Gain != fit.Gain || !kept[0].From.Equal(ask.Points[0].From) || kept[0].By != "Ada" {
		t.Errorf("kept %+v of %+v, %v, %v", kept, fit, err, err2)
	}
	ask.Points[1].From = noon.Add(50 * time.Second) // across the moment at which the mass was put on
	if _, err := b.Fit(t.Context(), ask, true); err == nil || !strings.Contains(home.Hint(err), "nothing moved") {
		t.Errorf("a span in which it moved: %v", err)
	}
	ask.Points = ask.Points[:1]
	if _, err := b.Fit(t.Context(), ask, true); err == nil || !strings.Contains(home.Hint(err), "known mass") {
		t.Errorf("one load: %v", err)
	}
}

// Where people sign in, and where something else answers, that is said.
func TestHTTPBench_NotOurs(t *testing.T) {
	for name, row := range map[string]struct {
		h    http.HandlerFunc
		want string
	}{
		"a door":          {func(w http.ResponseWriter, r *http.Request) { http.Redirect(w, r, "/login", http.StatusSeeOther) }, "does not let this in"},
		"another program": {http.NotFound, "answered 404"},
	} {
		server := httptest.NewServer(row.h)
		_, err := HTTPBench{URL: server.URL}.Live(t.Context(), "box-1")
		server.Close()
		if err == nil || !strings.Contains(err.Error(), row.want) || home.Hint(err) == "" {
			t.Errorf("%s: %v", name, err)
		}
	}
	if (HTTPBench{URL: "http://127.0.0.1:1"}).Answers(t.Context()) {
		t.Error("nobody is there, and answers")
	}
}

// Where devices have tokens, a scale is calibrated with that of a device that may
// send for it, and with no other.
func TestApp_Calibrate_ByTheScalesOwnDevice(t *testing.T) {
	l := apiHouse(t)
	ask := home.Calibration{Source: "box-1", Points: []home.KnownLoad{{Load: []float64{3.01, 3.012, 3.011}}, {Kg: 2, SDKg: 0.001, Load: []float64{5.09, 5.088, 5.091}}}}
	for device, lets := range map[string]bool{"box": true, "tablet": false, "nobody": false} {
		_, err := HTTPBench{URL: l.PagesURL(), Token: "a-long-enough-token-" + device}.Fit(t.Context(), ask, false)
		if let := err == nil; let != lets {
			t.Errorf("%s: %v", device, err)
		}
		if err != nil && !strings.Contains(home.Hint(err), "--token-file") {
			t.Errorf("%s is told %q", device, home.Hint(err))
		}
	}
}
