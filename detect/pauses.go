package detect

import (
	"time"

	"weighbeam/detect/stat"
)

// pauses learns how long something usually stays away, and says when it has
// stayed away for far longer. A pause that was told moves the limit, so that one
// which turns out to be usual is not told again and again, but never by more than
// twice, so that one long absence does not blind it.
type pauses struct {
	met   time.Time // when it was met last
	kept  []time.Duration
	next  int
	limit time.Duration // 0 until the usual is known
	told  bool          // since it was met
}

const (
	leastSilence = 36 * time.Hour
	mostSilence  = 14 * oneDay
	pausesKept   = 200
	pausesNeeded = 15
	relearn      = 40 // sorting them is dear, and the usual changes slowly
	toldCounts   = 5  // how many a pause that was told counts as: enough to move the limit
)

func newPauses() pauses { return pauses{kept: make([]time.Duration, 0, pausesKept)} }

// meet takes in that it was met at a time.
func (p *pauses) meet(at time.Time) {
	pause := at.Sub(p.met)
	if pause <= 0 {
		return // delivered twice
	}
	first, told := p.met.IsZero(), p.told
	p.met, p.told = at, false
	switch {
	case first:
	case told:
		for range toldCounts {
			p.learn(min(pause, p.limit))
		}
		p.limit = silence(p.kept)
	default:
		p.learn(pause)
		if p.limit == 0 || p.next%relearn == 0 {
			p.limit = silence(p.kept)
		}
	}
}

// wake is when what was met last may have stayed away for too long; see ticking.
func (p *pauses) wake(last, now time.Time) time.Time {
	if p.told || p.limit == 0 {
		return time.Time{}
	}
	return hourly(last.Add(p.limit), now)
}

func (p *pauses) learn(pause time.Duration) {
	if len(p.kept) < pausesKept {
		p.kept = append(p.kept, pause)
	} else {
		p.kept[p.next] = pause
	}
	p.next = (p.next + 1) % pausesKept
}

// silence is how long a pause must last to be told: far beyond the longest usual
// one. 0 while too few are known.
func silence(pauses []time.Duration) time.Duration {
	if len(pauses) < pausesNeeded {
		return 0
	}
	var buf [pausesKept]time.Duration
	mixed := append(buf[:0], pauses...)
	long := stat.Nth(mixed, len(mixed)*98/100)
	usual := stat.Nth(mixed, len(mixed)/2)
	return min(max(leastSilence, 8*usual, 2*long), mostSilence)
}
