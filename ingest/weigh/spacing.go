package weigh

import "time"

// spacing says when a history is made anew for what came late.
type spacing struct {
	owed      bool
	made      time.Time     // by the stopwatch, when it was made last
	took      time.Duration // that time
	rest      int
	stopwatch func() time.Time // in real time, whatever the clock of the house says
}

// After a history was made anew, what comes late gathers for rest times as long as that
// took, at most mostRest: where a scale sends out of order all the time, the machine
// has nine tenths of its time for everything else.
const (
	rest     = 9
	mostRest = time.Hour
)

// owe notes whether something came late.
func (s *spacing) owe(w *Weigher) {
	s.owed = s.owed || w.late
	w.late = false
}

// due reports whether a history is to be made anew now.
func (r *Runner) due() bool {
	if r.weigher == nil {
		return true
	}
	return r.owed && r.stopwatch().Sub(r.made) >= min(time.Duration(r.rest)*r.took, mostRest)
}
