package simulator_test

import (
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

var demoEnd = time.Date(2026, 11, 25, 15, 4, 0, 0, time.UTC)

func TestDemo_History_CanBeStored(t *testing.T) {
	h := simulator.Demo(1, demoEnd)
	if err := h.Household().Valid(); err != nil {
		t.Fatal(err)
	}
	history := h.History()
	if len(history) < 2000 {
		t.Fatalf("%d readings in eight months", len(history))
	}
	checkOrder(t, history)
	if last := history[len(history)-1].Time; !last.Before(demoEnd) || last.Before(demoEnd.Add(-24*time.Hour)) {
		t.Errorf("the last reading is of %s, the end is %s", last, demoEnd)
	}
}

func TestDemo_Live_CarriesOn(t *testing.T) {
	var live []home.Reading
	for r := range simulator.Demo(1, demoEnd).Live(demoEnd) {
		if live = append(live, r); len(live) == 20000 {
			break
		}
	}
	checkOrder(t, live)
	if first := live[0].Time; first.Before(demoEnd) || first.After(demoEnd.Add(time.Minute)) {
		t.Errorf("live data begin at %s, the history ends at %s", first, demoEnd)
	}
}

// checkOrder proves that every reading can be stored, is in time order, reached
// the house after it was true, and is like no other.
func checkOrder(t *testing.T, readings []home.Reading) {
	t.Helper()
	type key struct {
		source   string
		quantity home.Quantity
		time     time.Time
	}
	seen := map[key]bool{}
	for i, r := range readings {
		if err := r.Valid(); err != nil {
			t.Fatalf("%+v: %v", r, err)
		}
		if r != r.Normal() {
			t.Fatalf("%+v is finer than the store keeps", r)
		}
		if i > 0 && r.Time.Before(readings[i-1].Time) {
			t.Fatalf("%s comes after %s", r.Time, readings[i-1].Time)
		}
		if r.Arrived.Before(r.Time) || r.Clock == "" {
			t.Fatalf("arrived %s, true at %s, by the clock %q", r.Arrived, r.Time, r.Clock)
		}
		k := key{r.Source, r.Quantity, r.Time}
		if seen[k] {
			t.Fatalf("two readings are %v", k)
		}
		seen[k] = true
	}
}
