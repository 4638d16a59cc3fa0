package mirror

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"

	"weighbeam/home"
	"weighbeam/store"
)

// engine counts lines, the longest request, and each point once.
type engine struct {
	*httptest.Server
	mu      sync.Mutex
	longest int
	lines   int
	points  map[string]bool
}

func startEngine(t *testing.T) *engine {
	t.Helper()
	e := &engine{points: map[string]bool{}}
	e.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/api/v2/write" { // a trend that is to be written anew
			w.WriteHeader(http.StatusNoContent)
			return
		}
		var body io.Reader = r.Body
		if r.Header.Get("Content-Encoding") == "gzip" {
			z, err := gzip.NewReader(r.Body)
			if err != nil {
				w.WriteHeader(http.StatusBadRequest)
				return
			}
			body = z
		}
		text, err := io.ReadAll(body)
		if err != nil {
			w.WriteHeader(http.StatusBadRequest)
			return
		}
		lines := bytes.Split(bytes.TrimSpace(text), []byte("\n"))
		e.mu.Lock()
		defer e.mu.Unlock()
		e.longest = max(e.longest, len(lines))
		for _, l := range lines {
			e.lines++
			e.points[string(l)] = true
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(e.Close)
	return e
}

// An import of years is one entry of the journal. It is read in pieces and written
// in requests of a bounded size, all of it; a rebuild writes the same points again
// and moves no position.
func TestMirror_LongEntry_IsWrittenInPieces(t *testing.T) {
	db := house(t)
	const many = 3*batch + 17
	var years home.Batch
	for i := range many {
		at := noon.AddDate(-3, 0, 0).Add(time.Duration(i) * 10 * time.Minute)
		years.Readings = append(years.Readings, home.Reading{Source: "bowl", Quantity: home.Intake, Time: at, Value: 30, Cat: "juniper", Clock: home.ByDevice})
	}
	if _, err := db.Append(t.Context(), years); err != nil {
		t.Fatal(err)
	}
	e := startEngine(t)
	asked := &asking{DB: db}
	m, err := New(asked, Config{URL: e.URL, Bucket: "home", Trend: slope})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Close)
	drain(t, m)
	once := len(e.points)
	if once < many+100+30 || e.longest > batch || asked.most > 2*batch {
		t.Errorf("%d points, at most %d a request and %d read at once", once, e.longest, asked.most)
	}
	before, err := db.Cursor(t.Context(), CursorName)
	if err != nil {
		t.Fatal(err)
	}
	lines := e.lines
	if err := m.Rebuild(t.Context(), func(int64) {}); err != nil {
		t.Fatal(err)
	}
	after, err := db.Cursor(t.Context(), CursorName)
	if err != nil || after != before || len(e.points) != once || e.lines != 2*lines {
		t.Errorf("after a rebuild %d lines of %d points, position %v of %v, %v", e.lines, len(e.points), after, before, err)
	}
	if got := testutil.CollectAndCount(m); got != 4 {
		t.Errorf("%d metrics", got)
	}
}

// asking notes how much was read at once.
type asking struct {
	*store.DB
	most int
}

func (a *asking) Readings(ctx context.Context, source string, q home.Quantity, from, to time.Time) ([]home.Reading, error) {
	readings, err := a.DB.Readings(ctx, source, q, from, to)
	a.most = max(a.most, len(readings))
	return readings, err
}

// A trend is written once at the start, then only for a cat that was weighed, and
// not before watching has caught up with that.
func TestMirror_Trends_FollowWeighings(t *testing.T) {
	db, e := house(t), startEngine(t)
	trended := 0
	m := mirrorTo(t, db, Config{URL: e.URL, Bucket: "home", Trend: func(cat string) []home.TrendPoint { trended++; return slope(cat) }})
	drain(t, m)
	if trended != 1 {
		t.Fatalf("written %d times at the start", trended)
	}
	weigh := func(q home.Quantity) {
		t.Helper()
		r := home.Reading{Source: "bowl", Quantity: q, Time: noon.Add(time.Minute), Value: 4, Cat: "juniper", Clock: home.ByHand}
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
			t.Fatal(err)
		}
		drain(t, m)
	}
	m.trend.due = nil
	weigh(home.Intake)
	if len(m.trend.due) != 0 {
		t.Error("a meal makes a trend due")
	}
	weigh(home.Weight)
	if trended != 1 || len(m.trend.due) != 1 {
		t.Fatalf("written %d times, %d due", trended, len(m.trend.due))
	}
	m.trend.due["juniper"] = time.Now() // twenty minutes have passed
	drain(t, m)
	if trended != 2 || len(m.trend.due) != 0 {
		t.Errorf("written %d times, %d due", trended, len(m.trend.due))
	}
}
