package store

import (
	"testing"
	"time"

	"weighbeam/home"
)

// Where load is let go, the journal lets go of what was followed of it, and of nothing else.
func TestDB_Trim_Journal(t *testing.T) {
	const commits = 60
	for _, row := range []struct {
		name    string
		cursors map[string]int64
		from    int64 // the first entry of load that is left
	}{
		{"all followed", map[string]int64{"weigh": commits, "watch": commits}, commits},
		{"one is behind", map[string]int64{"weigh": 40, "watch": 30}, 31},
		// Those who follow no load hold nothing up.
		{"beside others", map[string]int64{"weigh": 40, "watch": 50, "mirror": 0, "answers": 0}, 41},
		// One of those who do has not begun.
		{"one has no place", map[string]int64{"weigh": 40}, 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			db := fresh(t)
			for i := range int64(commits) {
				r := home.Reading{Source: "box-1", Quantity: home.Load, Value: 5, Clock: home.ByDevice, Time: t0.Add(time.Duration(i) * time.Second)}
				if i%10 == 5 {
					r = weight(r.Time, i, 4.5)
				}
				appended(t, db, home.Batch{Readings: []home.Reading{r}})
			}
			for name, at := range row.cursors {
				if err := db.Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: name, Journal: at}}); err != nil {
					t.Fatal(err)
				}
			}
			if _, err := db.Trim(t.Context(), home.Checkpoint{Source: "box-1", At: t0.Add(10 * time.Second), State: []byte("{}")}); err != nil {
				t.Fatal(err)
			}
			entries, err := db.Journal(t.Context(), 0, 1000)
			if err != nil {
				t.Fatal(err)
			}
			left := map[int64]home.Quantity{}
			for _, e := range entries {
				left[e.ID] = e.Quantity
			}
			for id := int64(1); id <= commits; id++ {
				switch q, ok := left[id]; {
				case id%10 == 6 && q != home.Weight:
					t.Errorf("the weight of entry %d is gone", id)
				case id%10 != 6 && ok != (id >= row.from):
					t.Errorf("the load of entry %d is there: %v", id, ok)
				}
			}
			if end, err := db.JournalEnd(t.Context()); err != nil || end != commits {
				t.Errorf("the journal ends at %d, %v", end, err)
			}
		})
	}
}
