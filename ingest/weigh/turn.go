package weigh

import "time"

// inTurn is until, or earlier, where a stay that began before is over and soon judged:
// what began after it waits for it, so that names do not depend on how long a scale
// takes to settle.
func (w *Weigher) inTurn(until time.Time) time.Time {
	for _, s := range w.scales {
		if since, ok := s.tracker.Settling(); ok && !since.Before(w.released) && since.Before(until) {
			until = since
		}
	}
	return until
}
