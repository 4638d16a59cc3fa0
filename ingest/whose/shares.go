package whose

import "math"

// shares counts who comes how often, fading with time, as the prior of the
// next visit.
type shares struct {
	cats  []float64
	guest float64
	new   []bool // a cat of which nothing is known: it may come at any time
}

const (
	shareKeeps = 30.0  // days after which a count has fallen to 1/e
	shareStart = 3.0   // visits that each cat starts from and never loses
	newHazard  = 0.01  // how often a visit is the first of a cat of which nothing is known
	newShare   = 0.05  // share that such a cat has at least after it,
	newUntil   = 10.0  // until it came so often
	guestShare = 0.025 // part of visits that are by somebody else, to start from
	guestWorth = 40.0  // visits that this start is worth
	guestLimit = 0.15  // and what it never rises above
)

func newShares(cats int) shares { return shares{cats: make([]float64, cats), new: make([]bool, cats)} }

func (s *shares) fade(days float64) {
	f := math.Exp(-days / shareKeeps)
	for i := range s.cats {
		s.cats[i] *= f
	}
	s.guest *= f
}

func (s *shares) add(p []float64) {
	for i := range s.cats {
		s.cats[i] += p[i]
	}
	s.guest += p[len(s.cats)]
}

// prior turns the non-zero places of allowed into prior probabilities and
// returns what is left for somebody else.
func (s *shares) prior(allowed []float64) (guest float64) {
	total, all := 0.0, 0.0
	for _, c := range s.cats {
		all += c
	}
	for i := range s.cats {
		if allowed[i] > 0 {
			allowed[i] = s.rate(i, all)
			total += allowed[i]
		}
	}
	guest = math.Min((s.guest+guestShare*guestWorth)/(s.guest+all+guestWorth), guestLimit)
	for i := range s.cats {
		if allowed[i] > 0 {
			allowed[i] *= (1 - guest) / total
		}
	}
	return guest
}

// rate is what cat i has of all visits.
func (s *shares) rate(i int, all float64) float64 {
	c := s.cats[i] + shareStart
	if s.new[i] && s.cats[i] < newUntil {
		c = math.Max(c, newShare*all)
	}
	return c
}
