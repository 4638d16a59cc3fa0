package detect

import (
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

// A monitor that lets hours pass in which it has nothing to look at turns as one that
// looks at every hour does: in a life with gaps, meals, visits, counts, lumps and
// checks that stop.
func TestMonitor_Tick_SleepsThroughNothing(t *testing.T) {
	cat := home.Cat{ID: "cat", Born: time.Date(2014, 3, 1, 0, 0, 0, 0, time.UTC)}
	obs := eventfulLife()
	sleeps, wakes := New(cat, Options{}), New(cat, Options{})
	var a, b []home.Transition
	tick := epoch
	for i := range obs {
		for ; !tick.After(obs[i].Time()); tick = tick.Add(time.Hour) {
			a = append(a, sleeps.Tick(tick)...)
			wakes.calm = time.Time{}
			b = append(b, wakes.Tick(tick)...)
		}
		a = append(a, sleeps.Step(obs[i])...)
		b = append(b, wakes.Step(obs[i])...)
	}
	turned := map[home.Sign]bool{}
	for _, tr := range b {
		turned[tr.Finding.Sign] = true
	}
	for _, sign := range []home.Sign{home.WeightFalling, home.NotSeen, home.NotEating, home.NoLitterVisit, home.CheckOverdue, home.LumpToShow, home.FrequentVisits, home.DrinkingMore} {
		if !turned[sign] {
			t.Errorf("%s never turns: the life proves nothing of it", sign)
		}
	}
	if !reflect.DeepEqual(a, b) {
		t.Errorf("asleep %d turns, awake %d", len(a), len(b))
	}
}

// eventfulLife is 400 days of a cat of which much is known, and of which something is
// wrong, or missing, in each way that time alone can tell.
func eventfulLife() []Observation {
	var obs []Observation
	for _, w := range newHousehold(3).weighings(400) {
		d := int(w.Time.Sub(epoch) / oneDay)
		if d >= 300 && d < 320 || w.Source == home.Hand {
			continue // away, and nobody said so
		}
		w.Kg *= 1 - 0.0015*max(0, float64(d-150))
		obs = append(obs, Observation{Weighing: &w, Box: d < 330})
		if d < 330 { // then it is met on a floor scale only
			left := home.Visit{Cat: "cat", Source: "box-1", Event: home.CatVisit, Start: w.Time, End: w.Time.Add(time.Second), Confidence: 1, LeftG: 30, HasLeft: true}
			if d == 260 {
				left.LeftG = 0
			}
			obs = append(obs, Observation{Visit: &left, Box: true})
		}
		if d < 200 || d > 203 {
			meal := home.Reading{Cat: "cat", Source: "feeder", Quantity: home.Intake, Time: w.Time.Add(2 * time.Second), Value: 20}
			drunk := home.Reading{Cat: "cat", Source: "bowl", Quantity: home.Drunk, Time: w.Time.Add(3 * time.Second), Value: 30 + 40*float64(d/250)}
			obs = append(obs, Observation{Count: &meal}, Observation{Count: &drunk})
		}
	}
	for d := 20; d < 200; d += 7 {
		obs = append(obs, Observation{Check: &home.HomeCheck{ID: fmt.Sprint(d), Cat: "cat", Time: epoch.AddDate(0, 0, d).Add(9 * time.Hour),
			Lumps: []home.Lump{{ID: "a", LengthMm: 8, FirstSeen: epoch.AddDate(0, 0, 20)}}}})
	}
	for k := range 4 {
		v := home.Visit{Cat: "cat", Source: "box-1", Event: home.CatVisit, Confidence: 1, HasLeft: true, LeftSDG: 0.5,
			Start: epoch.AddDate(0, 0, 310).Add(time.Duration(20*k) * time.Minute)}
		v.End = v.Start.Add(time.Minute)
		obs = append(obs, Observation{Visit: &v, Box: true})
	}
	slices.SortStableFunc(obs, func(a, b Observation) int { return a.Time().Compare(b.Time()) })
	return obs
}
