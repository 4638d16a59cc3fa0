package whose

import (
	"time"

	"weighbeam/home"
)

// Posterior is how likely each cat is for one visit.
type Posterior struct {
	Cats  []home.Share // every cat of the household, in its order
	Guest float64      // probability of somebody else
	Held  bool         // later visits may still change it
}

// unclearMost is how many let-go visits without a cat keep their posterior.
const unclearMost = 1024

// unclearLog remembers the posteriors of the newest visits that were let go
// without a cat, for the page on which a person settles them.
type unclearLog struct {
	ring []*step
	next int
}

func (l *unclearLog) keep(s *step) {
	if s.visit == nil || s.visit.Cat != "" {
		return
	}
	s.edges = nil
	if len(l.ring) < unclearMost {
		l.ring = append(l.ring, s)
		return
	}
	l.ring[l.next] = s
	l.next = (l.next + 1) % unclearMost
}

// Posterior returns how likely each cat is for the visit of source that began
// at start. It is known for visits still held, for the newest of each source, and
// for the newest 1024 that were let go without a cat; else ok is false.
func (a *Assigner) Posterior(source string, start time.Time) (p Posterior, ok bool) {
	for _, s := range a.held {
		if s.is(source, start) {
			return a.posterior(s, true), true
		}
	}
	for _, s := range a.unclear.ring {
		if s.is(source, start) {
			return a.posterior(s, false), true
		}
	}
	if s := a.last[source]; s != nil && s.is(source, start) {
		return a.posterior(s, false), true
	}
	return Posterior{}, false
}

func (s *step) is(source string, start time.Time) bool {
	return s.visit != nil && s.visit.Source == source && s.at.Equal(start)
}

func (a *Assigner) posterior(s *step, held bool) Posterior {
	p := Posterior{Guest: s.p[len(a.cats)], Held: held}
	for i, c := range a.cats {
		p.Cats = append(p.Cats, home.Share{Cat: c.ID, P: s.p[i]})
	}
	return p
}
