package main

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// engineStub takes line protocol and can be away. It counts each point once.
type engineStub struct {
	*httptest.Server
	away   atomic.Bool
	mu     sync.Mutex
	points map[string]bool
}

func newEngineStub(t *testing.T) *engineStub {
	e := &engineStub{points: map[string]bool{}}
	e.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if e.away.Load() {
			w.WriteHeader(http.StatusBadGateway)
			return
		}
		body, err := io.ReadAll(r.Body)
		if err != nil {
			return // cut off: it comes again
		}
		e.mu.Lock()
		defer e.mu.Unlock()
		for line := range strings.Lines(string(body)) {
			key, rest, _ := strings.Cut(line, " ")
			e.points[key+rest[strings.LastIndex(rest, " "):]] = true
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(e.Close)
	return e
}

func (e *engineStub) count(measurement string) (n int) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for p := range e.points {
		if strings.HasPrefix(p, measurement+",") {
			n++
		}
	}
	return n
}

// kept is a stopped program's store, which must be sound.
func kept(t *testing.T, data string) *store.DB {
	t.Helper()
	db, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	if err := db.Check(t.Context()); err != nil {
		t.Error(err)
	}
	return db
}

// visitLines are the visits of a store, as lines that can be compared.
func visitLines(t *testing.T, db *store.DB) (lines []string) {
	t.Helper()
	visits, err := db.Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range visits {
		lines = append(lines, fmt.Sprintf("%s %s to %s %s %.4f kg left %.1f g %s", v.Source, v.Start.Format(time.RFC3339), v.End.Format(time.TimeOnly), v.Event, v.MassKg, v.LeftG, v.Cat))
	}
	slices.Sort(lines)
	return lines
}

// agrees holds what is stored and told against a house in which nothing went wrong.
func (d *troubledDay) agrees() {
	d.t.Helper()
	db := kept(d.t, d.data)
	data := filepath.Join(d.t.TempDir(), "clean.db")
	clean := startTimed(d.t, data, troubledSettings(d.t, data, d.household, ""), d.now)
	for rows := range slices.Chunk(d.rows, 5000) {
		clean.post(rows)
	}
	clean.settle()
	if code := clean.terminate(); code != 0 {
		d.t.Errorf("the house without faults ended with %d", code)
	}
	without := kept(d.t, data)
	if got, want := d.loads(db), d.loads(without); len(want) < len(d.rows)*99/100 || !slices.Equal(got, want) {
		d.t.Errorf("%d readings were acknowledged; %d are stored, without faults %d", len(d.rows), len(got), len(want))
	}
	got, want := visitLines(d.t, db), visitLines(d.t, without)
	if len(want) < 3 || !slices.Equal(got, want) {
		d.t.Errorf("visits:\n%s\nwithout faults:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	d.told(db)
	weighings := 0
	for _, c := range d.household.Cats {
		all, err := db.Weighings(d.t.Context(), c.ID, time.Time{}, time.Time{})
		if err != nil {
			d.t.Fatal(err)
		}
		weighings += len(all)
	}
	if n := d.engine.count("weighing"); n < weighings {
		d.t.Errorf("the engine has %d of %d weighings", n, weighings)
	}
}

// loads are the readings of a store, without when they arrived.
func (d *troubledDay) loads(db *store.DB) (lines []string) {
	d.t.Helper()
	for _, s := range d.household.Scales {
		all, err := db.Readings(d.t.Context(), s.ID, home.Load, time.Time{}, time.Time{})
		if err != nil {
			d.t.Fatal(err)
		}
		for _, r := range all {
			lines = append(lines, fmt.Sprint(r.Source, r.Time.UnixMicro(), r.Value))
		}
	}
	return lines
}

// told holds the notices against what the phone took.
func (d *troubledDay) told(db *store.DB) {
	d.t.Helper()
	notices, err := db.Notices(d.t.Context(), "")
	if err != nil {
		d.t.Fatal(err)
	}
	d.phone.mu.Lock()
	defer d.phone.mu.Unlock()
	sent := 0
	for _, n := range notices {
		if n.State == home.Sent {
			sent++
		}
		// Several that were due at once go as one message, which has an id of its own.
		if n.State == home.Sent && d.phone.ids[n.ID] == 0 && !strings.Contains(n.Reason, "in one message with") {
			d.t.Errorf("%s is noted as sent and never came", n.ID)
		}
		if n.State == home.GivenUp || n.State == home.Waiting && !n.Due.After(d.now) {
			d.t.Errorf("%s is %s: %s", n.ID, n.State, n.Reason)
		}
	}
	if d.flags > 0 && sent == 0 {
		d.t.Error("nobody was told of anything")
	}
}
