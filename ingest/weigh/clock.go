package weigh

import (
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// setBack is by how much less than before the clock of the house shows where it was set
// right after it ran ahead. Less is what keeps a clock right, and does no harm.
const setBack = time.Minute

// mind lets go of what was made by a clock that ran ahead: what it named too early, and
// what it took to be late or silent, is made anew by the right one.
func (r *Runner) mind(now time.Time) {
	if now.Add(setBack).Before(r.seen) {
		r.opt.Log.Warn("the clock of the house was set back: visits are made anew", "from", r.seen, "to", now)
		r.Close()
		r.weigher, r.trimmed = nil, time.Time{}
	}
	r.seen = now
}

// reach notes that everything up to now was looked at.
func (r *Runner) reach(now time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if now.After(r.reached) || now.Add(setBack).Before(r.reached) {
		r.reached = now
	}
}

// believe returns r as it can be true when it is now. What is dated ahead of the clock
// is set apart until the clock is there: of a device that has none, that is what came
// while the clock of the house ran ahead. An arrival that is yet to come says nothing.
func (w *Weigher) believe(r home.Reading, now time.Time) (home.Reading, bool) {
	most := now.Add(payload.FutureTolerance)
	if r.Time.After(most) {
		if w.apart.IsZero() || r.Time.Before(w.apart) {
			w.apart = r.Time
		}
		return r, false
	}
	if r.Arrived.After(most) {
		r.Arrived = r.Time
	}
	return r, true
}

// await makes what was set apart late once the clock is there.
func (w *Weigher) await(now time.Time) {
	if !w.apart.IsZero() && !w.apart.After(now.Add(payload.FutureTolerance)) {
		w.late, w.apart = true, time.Time{}
	}
}
