package whose

import (
	"cmp"
	"math"
	"slices"

	"weighbeam/home"
)

// settle names what is held and returns what is new or has changed.
func (a *Assigner) settle() []home.Visit {
	newest := a.held[len(a.held)-1]
	a.marginal(newest, a.weights(), nil)
	a.learn(newest)
	single := len(a.trellis.stories) == 1 && len(a.groups) == 0
	due := a.now.Sub(a.settled) >= settleEvery || len(a.held) <= 32
	var out []home.Visit
	if single || due {
		a.settled = a.now
		out = a.readBack()
	} else {
		out = a.tell(nil, newest)
	}
	a.release(single)
	return out
}

// readBack goes through the trellis from now to the oldest held visit. The
// weight of a story then, given all that is known now, is the weight of what
// grew out of it.
func (a *Assigner) readBack() (out []home.Visit) {
	weight, before := a.weights(), make([]float64, len(a.trellis.stories), keepMost)
	before = before[:keepMost]
	weight = append(weight, make([]float64, keepMost-len(weight))...)
	for i := len(a.held) - 1; i >= 0; i-- {
		clear(before)
		a.marginal(a.held[i], weight, before)
		weight, before = before, weight
	}
	for _, s := range a.held {
		out = a.tell(out, s)
	}
	return out
}

func (a *Assigner) weights() []float64 {
	w := make([]float64, len(a.trellis.stories), keepMost)
	for i := range w {
		w[i] = a.trellis.stories[i].weight
	}
	return w
}

// marginal is the probability of each cat, and of somebody else, for s, given
// the weights of the stories after it. The weights before it are added to before.
func (a *Assigner) marginal(s *step, after, before []float64) {
	if s.p == nil {
		s.p = make([]float64, len(a.cats)+1)
	}
	p := s.p
	clear(p)
	for _, e := range s.edges {
		w := after[e.to] * e.share
		if before != nil {
			before[e.from] += w
		}
		if e.cat == nobody {
			p[len(a.cats)] += w
		} else {
			p[e.cat] += w
		}
	}
	a.shareOut(p)
}

// tell appends s to out if its naming is new or has changed.
func (a *Assigner) tell(out []home.Visit, s *step) []home.Visit {
	if s.visit == nil {
		return out
	}
	was := *s.visit
	a.name(s)
	now := *s.visit
	if s.told && !differ(was, now) {
		*s.visit = was
		return out
	}
	s.told = true
	out = append(out, now)
	for _, m := range s.meals {
		out = append(out, s.follow(m))
	}
	return out
}

// differ reports whether two namings of a visit are worth telling apart.
func differ(a, b home.Visit) bool {
	return a.Cat != b.Cat || a.Whose != b.Whose || a.Confidence != b.Confidence || !slices.Equal(a.Shares, b.Shares)
}

func (a *Assigner) name(s *step) {
	v := s.visit
	best := 0
	for i := range a.cats {
		if s.p[i] > s.p[best] {
			best = i
		}
	}
	guest := s.p[len(a.cats)]
	v.Cat, v.Confidence, v.Whose = "", 0, home.Unclear
	switch {
	case len(a.cats) > 0 && s.p[best] >= nameAbove:
		v.Cat, v.Confidence, v.Whose = a.cats[best].ID, stepped(s.p[best], confidenceStep), home.Named
	case guest >= guestAbove:
		v.Whose = home.Guest
	}
	if s.said {
		v.Whose = home.Said
	}
	v.Shares = a.sharesOf(s.p)
}

// sharesOf lists the cats that count, most likely first.
func (a *Assigner) sharesOf(p []float64) []home.Share {
	var shares []home.Share
	for i, c := range a.cats {
		if told := stepped(p[i], shareStep); told > 0 {
			shares = append(shares, home.Share{Cat: c.ID, P: told})
		}
	}
	slices.SortFunc(shares, func(a, b home.Share) int { return cmp.Or(cmp.Compare(b.P, a.P), cmp.Compare(a.Cat, b.Cat)) })
	return shares
}

// stepped is the probability p, rounded down to a multiple of step, but certain where
// the rest is rounding.
func stepped(p, step float64) float64 {
	n := math.Round(1 / step)
	return min(1, math.Floor(p*n+1e-6)/n)
}

// release lets go of what can change no more.
func (a *Assigner) release(all bool) {
	n := 0
	for n < len(a.held) && (all || a.ripe(n)) {
		a.unclear.keep(a.held[n])
		a.held[n] = nil
		n++
	}
	a.held = a.held[n:]
}

// ripe reports whether the n-th of what is held is too old, or too long ago, to change.
func (a *Assigner) ripe(n int) bool {
	return len(a.held)-n > HoldMost || a.now.Sub(a.held[n].at) > HoldFor
}

// learn takes from the newest visit who comes how often, what guests weigh, and,
// where weight alone is sure, habits.
func (a *Assigner) learn(s *step) {
	a.shares.add(s.p)
	total := s.p[len(a.cats)]
	if total > a.guestFrom() {
		a.guests.add(s.visit.MassKg*1000, total)
	}
	if s.habit == nil {
		return
	}
	for i, h := range s.habit {
		total += s.p[i] / h
	}
	for i, h := range s.habit {
		if p := s.p[i] / h / total; p > habitSure {
			a.habits.add(i, s.scale, s.at, p)
		}
	}
}

// guestFrom is the probability from which a guest's visit is remembered. While
// nothing is known of a cat of the house, somebody new may well be that cat.
func (a *Assigner) guestFrom() float64 {
	if slices.Contains(a.anchored, false) {
		return guestSure
	}
	return guestLeast
}
