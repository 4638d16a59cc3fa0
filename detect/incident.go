package detect

import (
	"math"
	"time"

	"weighbeam/home"
)

// incident is the life of the findings of one sign: at most one is open at a
// time. It is pure: a verdict and a time in, a transition out.
type incident struct {
	cat  string
	sign home.Sign
	open *home.Finding
}

// quietUpdates is the least time between two transitions that only move
// figures, so that an open finding does not turn every day into a notice.
const quietUpdates = 7 * 24 * time.Hour

// apply takes the verdict v at the time at and appends what turned, at most one
// transition.
func (i *incident) apply(turned []home.Transition, v verdict, at time.Time) []home.Transition {
	switch {
	case v.stand == found && i.open == nil:
		return append(turned, i.raise(*v.finding, at))
	case v.stand == found:
		if t, ok := i.update(*v.finding, at); ok {
			return append(turned, t)
		}
	case v.stand == cleared && i.open != nil:
		return append(turned, i.close(v.reason, at))
	}
	return turned
}

func (i *incident) raise(f home.Finding, at time.Time) home.Transition {
	f.Cat, f.Sign, f.Raised, f.Updated = i.cat, i.sign, at, at
	i.open = &f
	return home.Transition{Turn: home.Raised, At: at, Finding: f}
}

func (i *incident) update(f home.Finding, at time.Time) (home.Transition, bool) {
	was := *i.open
	turn := home.Updated
	f.Cat, f.Sign = i.cat, i.sign
	switch d := f.Urgency.Rank() - was.Urgency.Rank(); {
	case d > 0 || SeenAnew(was, f):
		turn = home.Worsened
	case d < 0:
		turn = home.Eased
	case at.Sub(was.Updated) < quietUpdates || !moved(was, f):
		return home.Transition{}, false
	}
	f.Raised, f.Updated = was.Raised, at
	i.open = &f
	return home.Transition{Turn: turn, At: at, Finding: f}, true
}

func (i *incident) close(reason string, at time.Time) home.Transition {
	f := *i.open
	f.Closed, f.Updated, f.Reason = at, at, reason
	i.open = nil
	return home.Transition{Turn: home.Closed, At: at, Finding: f}
}

// moved reports whether the figures of b say something that those of a did not:
// the change moved by a point of a percent, or the level by one percent.
func moved(a, b home.Finding) bool {
	if math.Abs(a.ChangePct-b.ChangePct) >= 1 {
		return true
	}
	return math.Abs(a.After-b.After) >= 0.01*math.Max(math.Abs(a.After), math.Abs(b.After)) && a.After != b.After
}
