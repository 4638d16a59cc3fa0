package mirror

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror/influxtest"
)

// entered is what a person entered at an hour of the day.
func entered(q home.Quantity, hour int, value float64) home.Reading {
	r := home.Reading{Source: home.Hand, Quantity: q, Time: noon.Add(time.Duration(hour) * time.Hour), Value: value, Cat: "juniper", Clock: home.ByHand}
	if q == home.Breaths {
		r.Window, r.State = 30*time.Second, home.Asleep
	}
	return r
}

func enter(t *testing.T, db *store.DB, readings ...home.Reading) {
	t.Helper()
	if _, err := db.Append(t.Context(), home.Batch{Readings: readings}); err != nil {
		t.Fatal(err)
	}
}

// correct takes a reading back, and puts others in its place.
func correct(t *testing.T, db *store.DB, wrong home.Reading, right ...home.Reading) {
	t.Helper()
	c := home.Correction{ID: wrong.Key(), Cat: wrong.Cat, Matter: home.OfReading, Target: wrong.Key(), At: noon.AddDate(0, 0, 1), Why: "a slip"}
	for _, r := range right {
		c.Replacement = r.Key()
	}
	if err := db.Correct(t.Context(), c, home.Batch{Readings: right}); err != nil {
		t.Fatal(err)
	}
}

// corrected is a house in which weights and a count were mirrored; afterwards one
// weight was taken back, one replaced at its own moment, and the count taken back.
func corrected(t *testing.T, db *store.DB, mirrored func()) {
	t.Helper()
	wrong, twice, stays, count := entered(home.Weight, 1, 45), entered(home.Weight, 2, 4.2), entered(home.Weight, 3, 4.3), entered(home.Breaths, 4, 90)
	enter(t, db, wrong, twice, stays, count)
	mirrored()
	right := twice
	right.Seq, right.Value = 1, 4.25
	correct(t, db, wrong)
	correct(t, db, twice, right)
	correct(t, db, count)
}

// What a person took back is gone from a real InfluxDB, with the day of the trend that
// it made. What stands stays, also where it is of the same moment, and the same
// house on another site loses nothing; written once more, all is the same.
func TestMirror_TakenBack_IsGoneFromInfluxDB(t *testing.T) {
	e := influxtest.Start(t)
	days := 30
	config := Config{URL: e.URL, Token: influxtest.Token, Bucket: influxtest.Bucket, Site: "mill-lane",
		Trend: func(cat string) []home.TrendPoint { return slope(cat)[:days] }}
	other := config
	other.Site = "elsewhere"
	db := house(t)
	m := mirrorTo(t, db, config)
	corrected(t, db, func() {
		drain(t, m)
		if err := mirrorTo(t, db, other).Rebuild(t.Context(), func(int64) {}); err != nil {
			t.Fatal(err)
		}
	})
	days = 29
	points := func(site, what string) string {
		values, err := e.Values(`from(bucket:"home/autogen") |> range(start: 2025-01-01T00:00:00Z, stop: 2026-01-01T00:00:00Z) |> filter(fn: (r) => r.site == "` +
			site + `" and ` + what + `)`)
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprint(values)
	}
	entered := func(site string) string {
		return points(site, `r._field == "value" and r.source == "hand" and r.quantity == "weight"`) + points(site, `r._field == "value" and r.quantity == "breaths"`)
	}
	trend := func(site string) int {
		return len(strings.Fields(points(site, `r._measurement == "trend" and r._field == "kg"`)))
	}
	drain(t, m)
	m.trend.due["juniper"] = time.Time{} // the wait is over
	drain(t, m)
	for _, again := range []bool{false, true} {
		if again {
			if err := m.Rebuild(t.Context(), func(int64) {}); err != nil {
				t.Fatal(err)
			}
		}
		if got, n := entered("mill-lane"), trend("mill-lane"); got != "[4.25 4.3][]" || n != 29 {
			t.Errorf("again %v: there are %s and %d days of trend", again, got, n)
		}
		if got, n := entered("elsewhere"), trend("elsewhere"); got != "[45 4.2 4.3][90]" || n != 30 {
			t.Errorf("again %v: the other site has %s and %d days of trend", again, got, n)
		}
	}
}

// An engine that cannot delete keeps the point, and says of it that it was taken back.
func TestMirror_TakenBack_IsMarkedWhereNothingIsDeleted(t *testing.T) {
	at := victoria(t)
	db := house(t)
	m := mirrorTo(t, db, Config{URL: at, Token: "unused", Bucket: "home", Site: "mill-lane"})
	corrected(t, db, func() { drain(t, m) })
	drain(t, m)
	if err := m.Rebuild(t.Context(), func(int64) {}); err != nil {
		t.Fatal(err)
	}
	if got := exported(t, at, "reading_withdrawn", "quantity"); fmt.Sprint(got) != "map[breaths:1 weight:2]" {
		t.Errorf("marked are %v", got)
	}
}

// An InfluxDB 2 is asked in its own way, for that reading of that house alone. While
// it refuses, the position stays where it is.
func TestMirror_TakenBack_IsAskedOfInfluxDB2(t *testing.T) {
	var asked []string
	status := http.StatusServiceUnavailable
	engine := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/api/v2/delete" {
			w.WriteHeader(http.StatusNoContent)
			return
		}
		body, _ := io.ReadAll(r.Body)
		asked = append(asked, r.URL.RawQuery+" "+r.Header.Get("Authorization")+" "+string(body))
		w.WriteHeader(status)
	}))
	t.Cleanup(engine.Close)
	db := house(t)
	m := mirrorTo(t, db, Config{URL: engine.URL, Token: "secret", Org: "ours", Bucket: "home", Site: "mill-lane"})
	wrong := entered(home.Weight, 1, 45)
	enter(t, db, wrong)
	drain(t, m)
	correct(t, db, wrong)
	before, err := db.Cursor(t.Context(), CursorName)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Round(t.Context()); err == nil || home.Hint(err) == "" {
		t.Fatalf("refused: %v", err)
	}
	if c, err := db.Cursor(context.Background(), CursorName); err != nil || c != before {
		t.Errorf("the position moved to %+v, %v", c, err)
	}
	status, m.rest = http.StatusNoContent, time.Time{}
	drain(t, m)
	want := `bucket=home&org=ours Token secret {"predicate":"_measurement=\"reading\" AND source=\"hand\" AND quantity=\"weight\" AND cat=\"juniper\" AND site=\"mill-lane\"",` +
		`"start":"2025-03-03T13:00:00Z","stop":"2025-03-03T13:00:00.000000001Z"}`
	if len(asked) != 2 || asked[1] != want {
		t.Errorf("asked was\n%s\nwant at last\n%s", strings.Join(asked, "\n"), want)
	}
}
