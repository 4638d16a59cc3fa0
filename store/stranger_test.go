package store

import (
	"fmt"
	"testing"
	"time"

	"weighbeam/home"
)

// Whom readings name and nobody knows is told by each source that does.
func TestDB_NamedCats(t *testing.T) {
	db := fresh(t)
	of := func(source, cat string, after time.Duration) home.Reading {
		r := weight(t0.Add(after), 0, 4.5)
		r.Source, r.Cat = source, cat
		return r
	}
	appended(t, db, home.Batch{Readings: []home.Reading{of("box-1", "", 0), of("box-1", "juniper", 0), of("box-1", "felix", time.Hour), of("box-1", "felix", 0),
		of("box-2", "felix", 0), of("hand", "moss", 0)}})
	for _, row := range []struct {
		cats  []home.Cat
		since time.Time
		want  string
	}{
		// by each source that names it
		{[]home.Cat{{ID: "juniper"}, {ID: "moss"}}, time.Time{}, "felix box-1 2 1h0m0s, felix box-2 1 0s, "},
		// the others are known
		{[]home.Cat{{ID: "juniper"}, {ID: "felix"}}, time.Time{}, "moss hand 1 0s, "},
		// who was not named since is left out, and who was is counted from the start
		{nil, t0.Add(time.Hour), "felix box-1 2 1h0m0s, felix box-2 1 0s, "},
		// nobody is known
		{nil, time.Time{}, "felix box-1 2 1h0m0s, felix box-2 1 0s, juniper box-1 1 0s, moss hand 1 0s, "},
	} {
		all, err := db.NamedCats(t.Context(), home.Household{Cats: row.cats}, row.since)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		for _, n := range all {
			got += fmt.Sprint(n.Cat, " ", n.Source, " ", n.Count, " ", n.Last.Sub(t0), ", ")
		}
		if got != row.want {
			t.Errorf("beside %v: %s, want %s", row.cats, got, row.want)
		}
	}
}
