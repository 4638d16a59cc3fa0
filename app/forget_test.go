package app

import (
	"testing"
	"time"

	"weighbeam/home"
)

// A scale that sends each second brings a line of the journal each second. Once the
// stages have followed them they go with the load, for as long as the program runs.
func TestApp_Journal_DoesNotGrowForEver(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	l := startLive(t, home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox, Topic: "home/1"}}}, noon)
	const days, each = 70, 10 // load is kept for sixty days
	day := func(n int) {
		for i := range each {
			r := home.Reading{Source: "box-1", Quantity: home.Load, Time: l.clock.Load().Add(time.Duration(i) * time.Second), Value: 5, Clock: home.ByDevice}
			if _, err := l.store.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); err != nil {
				t.Fatal(err)
			}
		}
		at := noon.AddDate(0, 0, n)
		l.clock.Store(&at)
		l.settle()
	}
	for n := range days {
		day(n + 1)
	}
	entries, err := l.store.Journal(t.Context(), 0, 10_000)
	if err != nil {
		t.Fatal(err)
	}
	loads := 0
	for _, e := range entries {
		if e.Quantity == home.Load {
			loads++
		}
	}
	if loads > 3*each { // the last have just been followed
		t.Errorf("%d entries of load are left of %d", loads, days*each)
	}
}
