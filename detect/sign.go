package detect

import (
	"time"

	"weighbeam/home"
)

// sign is one kind of finding: its rule, its evidence, its urgencies.
type sign interface {
	kind() home.Sign
	step(o Observation) verdict
	tick(now time.Time) verdict
	outlook(now time.Time, out *home.Outlook)
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
