package visit_test

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// A scale that is calibrated between two visits goes on: the jump of its numbers is
// no event, and the second cat is weighed by the new ones. A tracker that is not
// told takes the jump for something.
func TestTracker_Rescale_BetweenVisits_NoEvent(t *testing.T) {
	const ratio, shift = 1.05, -0.9 // the empty box of 6 kg reads 5.4 kg then
	in := trace(5, join(cat(4000, 0), cat(4000, 30))...)
	at := stamp(600 + 300)
	renumbered := with(in, func(s, g float64) float64 {
		if s >= 900 {
			return ratio*g + shift*1000
		}
		return g
	})
	each := func(told bool) []home.Visit {
		done := false
		return run(home.LitterBox, renumbered, func(i int, tr *visit.Tracker) *visit.Tracker {
			if told && !done && !renumbered[i].at.Before(at) {
				done = tr.Rescale(ratio, shift)
			}
			return tr
		})
	}
	check(t, "told", each(true), answer{event: home.CatVisit, mass: 4000, massOff: 6, left: 0, leftOff: 3},
		answer{event: home.CatVisit, mass: 4200, massOff: 6, left: 31.5, leftOff: 3})
	if got := each(false); len(got) == 2 && math.Abs(got[1].MassKg-4.2) < 0.006 {
		t.Error("without being told it found the same: the trace shows nothing")
	}
}

// During a stay a tracker does not change its numbers. After it, a gain far from
// one leaves nothing of what was learned, and it begins anew.
func TestTracker_Rescale_WaitsForAnEmptyScale(t *testing.T) {
	in := trace(5, cat(4000, 0)...)
	tr := visit.New(home.LitterBox)
	for _, l := range in {
		if s := l.at.Sub(stamp(0)).Seconds(); s > 620 && s < 621 && tr.Rescale(1.01, 0) {
			t.Error("it changed its numbers while a cat stood on it")
		}
		tr.Step(l.at, l.kg, func(home.Visit) {})
	}
	if !tr.Rescale(1./40, 0) {
		t.Error("a new unit was refused")
	}
	var got []home.Visit
	for _, l := range in {
		tr.Step(l.at.Add(time.Hour), l.kg+3, func(v home.Visit) { got = append(got, v) })
	}
	check(t, "anew", got, answer{event: home.CatVisit, mass: 4000, massOff: 6, left: 0, leftOff: 3})
}

// What the empty scale moved by itself between two visits is told with the second,
// in the numbers of its own calibration; what the first left is no part of it.
func TestTracker_Emit_TellsHowTheEmptyScaleMoved(t *testing.T) {
	in := trace(5, join(cat(4000, 30), []piece{ramp(3600, 30, 42), still(300, 42, 1)}, cat(4000, 42))...)
	got := follow(home.LitterBox, in)
	if len(got) < 2 || got[0].CreptG != 0 || math.Abs(got[1].CreptG-12) > 3 {
		t.Errorf("got %+v", got)
	}
}
