package weigh

import (
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

// ticking is a house whose clock is off for a while.
type ticking struct {
	*fixture
	*testing.T
	r     *Runner
	clock home.Clock // of the scale
	off   time.Duration
}

// say delivers load as it is measured.
func (h *ticking) say(load []home.Reading) {
	h.Helper()
	for part := range slices.Chunk(load, 20) {
		for i := range part {
			part[i].Clock, part[i].Arrived = h.clock, part[i].Time.Add(h.off)
			if h.clock == home.ByArrival {
				part[i].Time = part[i].Arrived
			}
		}
		h.now = part[len(part)-1].Arrived
		h.append(h.T, part...)
		h.rounds(h.T, h.r)
	}
}

// The clock of the house runs a month ahead for five minutes and is set right: visits are
// found and named as they come, as after a start, and the history is made anew once for
// that. When the month is over, what was dated by the wrong clock takes its place.
func TestRunner_Round_ClockRanAhead(t *testing.T) {
	for _, row := range []struct {
		clock home.Clock
		named int
	}{
		{home.ByDevice, 4},  // the dates are right, and only the arrivals wrong
		{home.ByArrival, 3}, // one visit is dated a month ahead
	} {
		f := newFixture(t, noon)
		w := &walks{DB: f.db, machine: noon}
		h := &ticking{fixture: f, T: t, r: f.runningOver(w), clock: row.clock}
		h.r.rest, h.r.stopwatch = 0, w.stopwatch
		h.say(stay("box-1", noon))
		h.off = 30 * 24 * time.Hour
		h.say(stay("box-1", noon.Add(10*time.Minute)))
		if got := h.r.Reached(); !got.Equal(f.now) {
			t.Fatalf("reached %s of %s", got, f.now)
		}
		h.off, w.n = 0, 0
		for i, seen := range []int{300, 300, 200} { // after the last one the scale is silent
			h.say(stay("box-1", noon.Add(time.Duration(20+20*i)*time.Minute))[:seen])
			if got := h.r.Reached(); !got.Equal(f.now) {
				t.Errorf("%s: reached %s of %s", row.clock, got, f.now)
			}
		}
		if n := len(f.visits(t)); n != row.named || w.n != 1 {
			t.Errorf("%s: %d visits of %d, made anew %d times", row.clock, n, row.named, w.n)
		}
		f.now = f.now.Add(40 * time.Minute)
		f.rounds(t, h.r)
		if n := len(f.visits(t)); n != row.named+1 {
			t.Errorf("%s: %d visits of %d after the silence", row.clock, n, row.named+1)
		}
		f.asAnew(t)
		f.now = f.now.Add(31 * 24 * time.Hour)
		f.rounds(t, h.r)
		if n := len(f.visits(t)); n != 5 {
			t.Errorf("%s: %d visits of 5", row.clock, n)
		}
		f.asAnew(t)
	}
}
