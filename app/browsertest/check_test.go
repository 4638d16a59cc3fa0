package browsertest

import (
	"context"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

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
	// away makes the house unreachable while it is true.
	away func(bool)
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
		Practice: "Mill Lane practice", Phone: "+44 20 7946 0000"})
	mux := http.NewServeMux()
	mux.Handle("/check", form)
	mux.Handle("/check/", form)
	mux.Handle("/style.css", dashboards.New(nil, nil, look))
	mux.Handle("/icon.svg", dashboards.New(nil, nil, look))
	srv := httptest.NewServer(mux)
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
