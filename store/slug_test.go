package store

import (
	"fmt"
	"testing"

	"weighbeam/home"
)

// What the journal tells of can be read at once, also the first of a new source:
// who follows the journal asks once, and never again.
func TestDB_Journal_TellsOfWhatCanBeRead(t *testing.T) {
	db := fresh(t)
	const sources = 300
	done := make(chan error, 1)
	go func() {
		for n := range sources {
			r := weight(t0, int64(n), 4)
			r.Source = fmt.Sprintf("box-%d", n)
			if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for last, seen := int64(0), 0; seen < sources; {
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
		default:
		}
		entries, err := db.Journal(t.Context(), last, sources)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			last, seen = e.ID, seen+1
			if got, err := db.Readings(t.Context(), e.Source, e.Quantity, e.From, e.To.Add(home.TimeStep)); err != nil || len(got) != 1 {
				t.Fatalf("entry %d tells of %s, and %d of its readings are there: %v", e.ID, e.Source, len(got), err)
			}
		}
	}
}
