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

// The story is in the truth: Bramble is level for six months and has then lost
// 0.5 % a week for seven weeks; Quill breathes faster; Saffron stays as she is.
func TestDemo_Truth_TellsTheStory(t *testing.T) {
	for seed := range uint64(5) {
		h := simulator.Demo(seed, demoEnd)
		onset := demoEnd.AddDate(0, 0, -49)
		level, before, after := map[string][]float64{}, []float64{}, []float64{}
		var onsets []simulator.Event
		for _, e := range h.Truth() {
			switch {
			case e.Kind == simulator.Onset:
				onsets = append(onsets, e)
			case e.Kind == simulator.Visit:
				level[e.Cat] = append(level[e.Cat], e.LevelKg)
				if e.Cat == "bramble" && e.Start.Before(onset) {
					before = append(before, e.LevelKg)
				} else if e.Cat == "bramble" {
					after = append(after, e.LevelKg)
				}
			}
		}
		within(t, "part that Bramble wandered before", highest(before)/lowest(before), 1, 1.025)
		lost := 100 * (before[len(before)-1] - after[len(after)-1]) / before[len(before)-1]
		within(t, "percent that Bramble lost", lost, 2.4, 4.4)
		within(t, "part that Saffron wandered", highest(level["saffron"])/lowest(level["saffron"]), 1, 1.025)
		if len(onsets) != 2 || onsets[0].Cat != "bramble" || !onsets[0].Start.Equal(onset) || onsets[1].Cat != "quill" {
			t.Errorf("onsets: %+v", onsets)
		}
	}
}

// Quill's sleeping counts go from about 21 to the low thirties, the others' do not.
func TestDemo_History_HasRisingBreaths(t *testing.T) {
	for seed := range uint64(5) {
		early, late := map[string][]float64{}, map[string][]float64{}
		for _, r := range simulator.Demo(seed, demoEnd).History() {
			switch {
			case r.State != home.Asleep:
			case r.Time.Before(demoEnd.AddDate(0, 0, -35)):
				early[r.Cat] = append(early[r.Cat], r.PerMinute())
			case r.Time.After(demoEnd.AddDate(0, 0, -9)):
				late[r.Cat] = append(late[r.Cat], r.PerMinute())
			}
		}
		within(t, "Quill before", mean(early["quill"]), 20, 22)
		within(t, "Quill in the last days", quantile(late["quill"], 0.5), 27, 36)
		within(t, "Bramble before", mean(early["bramble"]), 19, 21)
		within(t, "Bramble in the last days", quantile(late["bramble"], 0.5), 16, 24)
		within(t, "Saffron in the last days", quantile(late["saffron"], 0.5), 14, 23)
	}
}

// Live data carry on where the history stops: what the boxes weigh then are the
// cats as the truth has them, and the loss goes on.
func TestDemo_Live_KeepsTheWeights(t *testing.T) {
	h := simulator.Demo(2, demoEnd)
	last := map[string]float64{}
	for e := range h.Events() {
		if e.Kind == simulator.Visit {
			last[e.Cat] = e.LevelKg
		}
	}
	n := 0
	for e := range h.EventsFrom(demoEnd) {
		if e.Kind != simulator.Visit {
			continue
		}
		if n++; n == 60 {
			break
		}
		within(t, e.Cat+" against its last level", e.LevelKg/last[e.Cat], 0.985, 1.006)
	}
}
