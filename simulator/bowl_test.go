package simulator_test

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

func bowls(t *testing.T, f simulator.Fault, days int) *simulator.House {
	t.Helper()
	return house(t, simulator.Options{
		Seed: 9, Start: time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), Days: days, Cats: 2, Scales: 1, Feeders: 2, Waters: 1, Faults: f,
	})
}

// Kane, Rogers and Morris 1981: 16 meals in 24 h. Bermingham et al. 2010: 55.1
// kcal/kg a day, here as dry food. Water drunk: within the 20 to 90 mL/kg a day
// of all sources.
func TestHouse_Bowls_AreAsPublished(t *testing.T) {
	const days = 60
	h := bowls(t, simulator.NoFault, days)
	meals, food, water := map[string]float64{}, map[string]float64{}, map[string]float64{}
	for e := range h.Events() {
		switch e.Kind {
		case simulator.Meal:
			meals[e.Cat]++
			food[e.Cat] -= e.LeftG
		case simulator.Drink:
			water[e.Cat] -= e.LeftG
		}
	}
	for _, p := range h.Profiles() {
		id := p.Cat.ID
		within(t, "meals of "+id+" a day", meals[id]/days, 13, 17)
		within(t, "kcal of "+id+" a kg and day", 3.8*food[id]/days/p.Cat.WeightKg, 45, 62)
		within(t, "mL of "+id+" a kg and day", water[id]/days/p.Cat.WeightKg, 22, 36)
	}
}

// What is gone from a bowl after a meal is what the truth says the cat took, and
// what a person poured in is what it says was filled.
func TestHouse_Bowls_WeighTheTruth(t *testing.T) {
	h := bowls(t, simulator.NoFault, 6)
	for _, k := range []simulator.Kind{simulator.Meal, simulator.Drink, simulator.ToppedUp, simulator.Moved} {
		for _, tr := range ofScale(t, h, k) {
			after := 1000 * quantile(tr.held(tr.lasts()+5, 999), 0.5)
			within(t, string(k)+": g against the truth", after-tr.LeftG, -1, 1)
		}
	}
}

// ofScale is the traces of events of one kind, each on its own scale.
func ofScale(t *testing.T, h *simulator.House, k simulator.Kind) []trace {
	t.Helper()
	return traces(t, h, func(e simulator.Event) bool { return e.Kind == k }, 6)
}

// A water bowl that nobody touches gets lighter by about a gram an hour where it
// dries, and stays as it is where it does not.
func TestFault_Evaporation_DriesTheBowl(t *testing.T) {
	for _, c := range []struct {
		fault  simulator.Fault
		lo, hi float64
	}{{simulator.NoFault, -0.05, 0.05}, {simulator.Evaporation, 0.5, 1.3}} {
		h := bowls(t, c.fault, 6)
		var slopes []float64
		var last simulator.Event
		for e := range h.Events() {
			if e.Source != "water-hall" {
				continue
			}
			if quiet := e.Start.Sub(last.End); last.Source != "" && quiet > 3*time.Hour {
				slopes = append(slopes, lost(h, last.End.Add(time.Minute), e.Start.Add(-time.Minute)))
			}
			last = e
		}
		within(t, c.fault.String()+": g an hour", mean(slopes), c.lo, c.hi)
	}
}

// lost is how many grams an hour the water bowl loses between two times.
func lost(h *simulator.House, from, to time.Time) float64 {
	var first, last home.Reading
	for r := range h.Live(from) {
		if r.Time.After(to) {
			break
		}
		if r.Source == "water-hall" {
			if first.Source == "" {
				first = r
			}
			last = r
		}
	}
	return 1000 * (first.Value - last.Value) / last.Time.Sub(first.Time).Hours()
}

// A bowl with arithmetic of its own tells each meal and drink to half a gram or so.
func TestHouse_Settled_TellsWhatWasTaken(t *testing.T) {
	h := bowls(t, simulator.NoFault, 20)
	truth := map[string]float64{}
	for e := range h.Events() {
		truth[e.Source+e.End.String()] = -e.LeftG
	}
	n := map[home.Quantity]int{}
	for r := range h.Settled() {
		if r.Quantity != home.Intake && r.Quantity != home.Drunk {
			continue
		}
		n[r.Quantity]++
		if off := r.Value - truth[r.Source+r.Time.String()]; math.Abs(off) > 1.6 {
			t.Errorf("%s at %s tells %.1f g more than was taken", r.Source, r.Time, off)
		}
	}
	if n[home.Intake] < 300 || n[home.Drunk] < 150 {
		t.Errorf("told in 20 days: %v", n)
	}
}

// Uneven samples keep their order and stay within a third of their distance.
func TestFault_Jitter_MakesTimesUneven(t *testing.T) {
	tt := newTrial(t, simulator.Jitter, simulator.FiveHertz())
	off, n := []time.Time{}, 0
	for r := range tt.off.Load() {
		off = append(off, r.Time)
	}
	shifts, last := []float64{}, time.Time{}
	for r := range tt.on.Load() {
		if n >= len(off) {
			break
		}
		if !r.Time.After(last) {
			t.Fatalf("%s does not come after %s", r.Time, last)
		}
		if r.Quantity == home.Load {
			shifts = append(shifts, r.Time.Sub(off[n]).Seconds())
		}
		last = r.Time
		n++
	}
	within(t, "earliest, s", lowest(shifts), 0, 0.002)
	within(t, "latest, s", highest(shifts), 0.06, 0.0667)
}
