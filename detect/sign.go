package detect

import (
	"time"

	"weighbeam/home"
)

// sign is one kind of finding: its rule, its evidence, its urgencies.
type sign interface {
	kind() home.Sign
	step(o Observation) verdict
	outlook(now time.Time, out *home.Outlook)
	// clone is a copy that goes its own way, and looks at w and care from then on.
	clone(w *weights, care *cares) sign
}

// ticking is a sign that may also turn because time passes.
type ticking interface {
	sign
	tick(now time.Time) verdict
	// wake is a time before which tick does nothing unless something is stepped, after
	// a tick at now: the zero time where it need not be ticked at all.
	wake(now time.Time) time.Time
}

// hourly is the wake of a sign that is due at a time, or overdue and looked at again
// at each full hour.
func hourly(due, now time.Time) time.Time {
	if next := now.Add(time.Hour); due.Before(next) {
		return next
	}
	return due
}

// stand says what a verdict knows.
type stand int

const (
	holds stand = iota // nothing new: the incident stays as it is
	found
	cleared
)

// verdict is what a sign says at one moment. finding is for found, and
// reason, a full sentence, for cleared.
type verdict struct {
	stand   stand
	finding *home.Finding // a pointer, since most verdicts of a year say nothing
	reason  string
}

// foundAs is the verdict that f stands.
func foundAs(f home.Finding) verdict { return verdict{stand: found, finding: &f} }

// clearAs is the verdict that nothing is to be found, and why.
func clearAs(reason string) verdict { return verdict{stand: cleared, reason: reason} }
