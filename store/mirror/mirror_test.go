package mirror

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror/influxtest"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// house is a store with readings, counts and visits.
func house(t *testing.T) *store.DB {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	var batch home.Batch
	for i := range 100 {
		at := noon.Add(time.Duration(i) * time.Hour)
		batch.Readings = append(batch.Readings,
			home.Reading{Source: "clinic", Quantity: home.Weight, Time: at, Value: 4.5, SD: 0.01, Cat: "juniper", Clock: home.ByHand},
			home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Value: 9.4, Clock: home.ByDevice})
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	if err := db.SaveVisits(t.Context(), home.Cursor{Name: "weigh"}, []home.Visit{visit("juniper"), visit("")}, nil); err != nil {
		t.Fatal(err)
	}
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}); err != nil {
		t.Fatal(err)
	}
	falling := home.Finding{Cat: "juniper", Sign: home.WeightFalling, Urgency: home.Book, Raised: noon, Text: "Weight is falling.", ChangePct: -2, Rate: -0.5, RateUnit: "%/week"}
	closed := falling
	closed.Closed = noon.AddDate(0, 0, 3)
	turns := []home.Transition{{Turn: home.Raised, At: noon, Finding: falling}, {Turn: home.Closed, At: closed.Closed, Finding: closed}}
	if err := db.Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: "watch"}, Turns: turns}); err != nil {
		t.Fatal(err)
	}
	return db
}

// slope is a trend of a month.
func slope(string) []home.TrendPoint {
	var points []home.TrendPoint
	for i := range 30 {
		kg := 4.5 - float64(i)/100
		points = append(points, home.TrendPoint{Time: noon.AddDate(0, 0, i), Value: kg, Lo: kg - 0.1, Hi: kg + 0.1})
	}
	return points
}

func visit(cat string) home.Visit {
	v := home.Visit{Source: "box-1", Start: noon, End: noon.Add(time.Minute), Event: home.CatVisit, MassKg: 4.4, SDKg: 0.02, Cat: cat, Confidence: 0.97, Whose: home.Named,
		Shares: []home.Share{{Cat: cat, P: 0.97}}}
	if cat == "" { // it may be of two cats that are not looked for here
		v.Start, v.Confidence, v.Whose = noon.Add(time.Hour), 0, home.Unclear
		v.Shares = []home.Share{{Cat: "ash", P: 0.5}, {Cat: "birch", P: 0.5}}
	}
	return v
}

func mirrorTo(t *testing.T, db *store.DB, c Config) *Mirror {
	t.Helper()
	m, err := New(db, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Close)
	return m
}

func drain(t *testing.T, m *Mirror) {
	t.Helper()
	for more := true; more; {
		var err error
		if more, err = m.Round(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
}

// While the engine refuses or is away, the position stays; when it takes
// everything, the position moves, and nothing is written again.
func TestMirror_Round_MovesOnlyAfterTheEngineTook(t *testing.T) {
	var refuse atomic.Bool
	var requests atomic.Int64
	refuse.Store(true)
	engine := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		requests.Add(1)
		if refuse.Load() {
			w.WriteHeader(http.StatusInternalServerError)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(engine.Close)
	db := house(t)
	m := mirrorTo(t, db, Config{URL: engine.URL, Token: "secret-token", Bucket: "home"})
	_, err := m.Round(t.Context())
	if err == nil || home.Hint(err) == "" || strings.Contains(err.Error(), "secret-token") {
		t.Fatalf("refused: %v", err)
	}
	if c, err := db.Cursor(t.Context(), CursorName); err != nil || c.Journal != 0 {
		t.Errorf("the position moved to %d, %v", c.Journal, err)
	}
	tried := requests.Load()
	if _, err := m.Round(t.Context()); err == nil || requests.Load() != tried {
		t.Errorf("tried again at once: %v", err)
	}
	refuse.Store(false)
	m.rest = time.Time{} // the pause is over
	drain(t, m)
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if c, err := db.Cursor(t.Context(), CursorName); err != nil || c.Journal != end {
		t.Errorf("the position is %d of %d, %v", c.Journal, end, err)
	}
	took := requests.Load()
	drain(t, m)
	if requests.Load() != took {
		t.Error("written again without news")
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, c := range []Config{{}, {URL: "http://h"}, {URL: "http://h", Bucket: "b", Site: "Not A Slug"}} {
		if _, err := New(nil, c); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
}

// found is how many values a Flux query finds, and the last of them.
func found(t *testing.T, e *influxtest.Engine, flux string) (n int, last any) {
	t.Helper()
	values, err := e.Values(flux)
	if err != nil {
		t.Fatal(err)
	}
	if len(values) == 0 {
		return 0, nil
	}
	return len(values), values[len(values)-1]
}

// Against a real InfluxDB: everything but load arrives; killed and started again,
// and with everything written once more, there is nothing twice; a visit that
// goes to another cat leaves no weight behind that counts.
func TestMirror_RealInfluxDB(t *testing.T) {
	e := influxtest.Start(t)
	db := house(t)
	config := Config{URL: e.URL, Token: influxtest.Token, Bucket: influxtest.Bucket, Site: "mill-lane", Trend: slope}
	m := mirrorTo(t, db, config)
	if err := m.Ask(t.Context()); err != nil {
		t.Errorf("asked whether it is there: %v", err)
	}
	drain(t, m)

	all := `from(bucket:"home/autogen") |> range(start: 2025-01-01T00:00:00Z, stop: 2026-01-01T00:00:00Z) |> filter(fn: (r) => r.site == "mill-lane" and `
	readings := all + `r._measurement == "reading" and r._field == "value")`
	weighings := all + `r._measurement == "weighing" and r.cat == "juniper" and r._field == "confidence")`
	if n, last := found(t, e, readings); n != 100 || last != 4.5 {
		t.Errorf("%d readings, the last %v, want 100 of 4.5", n, last)
	}
	if n, last := found(t, e, weighings); n != 1 || last != 0.97 {
		t.Errorf("%d weighings, the last of confidence %v", n, last)
	}

	for field, want := range map[string]any{"open": int64(0), "rank": int64(0), "turn": "closed", "rate": -0.5} {
		if n, last := found(t, e, all+fmt.Sprintf(`r._measurement == "finding" and r.subject == "juniper" and r._field == %q)`, field)); n != 2 || last != want {
			t.Errorf("%d turns of the finding, the last with %s %v", n, field, last)
		}
	}
	if n, last := found(t, e, all+`r._measurement == "trend" and r._field == "kg")`); n != 30 || last != 4.5-0.29 {
		t.Errorf("%d days of trend, the last of %v kg", n, last)
	}

	e.Kill()
	away := mirrorTo(t, db, config)
	if err := db.SaveVisits(t.Context(), home.Cursor{Name: "weigh"}, []home.Visit{visit("moss")}, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := away.Round(t.Context()); err == nil {
		t.Error("nobody is there, and the round went well")
	}
	e.Again(t)
	if err := db.Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: CursorName}}); err != nil { // from the beginning
		t.Fatal(err)
	}
	drain(t, mirrorTo(t, db, config))
	if n, _ := found(t, e, readings); n != 100 {
		t.Errorf("%d readings after writing them twice", n)
	}
	if n, last := found(t, e, weighings); n != 1 || last != 0.0 {
		t.Errorf("%d weighings of the former cat, the last of confidence %v, want 0", n, last)
	}
}
