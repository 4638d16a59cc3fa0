package whose

import (
	"math"
	"time"

	"weighbeam/home"
)

// shares counts who comes how often, fading with time, as the prior of the
// next visit.
type shares struct {
	cats  []float64
	guest float64
}

const (
	shareKeeps = 30.0 // days after which a count has fallen to 1/e
	shareStart = 3.0  // what each cat starts from and never loses
	guestShare = 0.01 // part of visits that are by somebody else, to start from
	guestWorth = 40.0 // visits that this start is worth
	guestMost  = 0.15 // and what it never rises above
)

func newShares(cats int) shares { return shares{cats: make([]float64, cats)} }

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
	for i, c := range s.cats {
		all += c
		if allowed[i] > 0 {
			total += c + shareStart
		}
	}
	guest = math.Min((s.guest+guestShare*guestWorth)/(s.guest+all+guestWorth), guestMost)
	for i, c := range s.cats {
		if allowed[i] > 0 {
			allowed[i] = (1 - guest) * (c + shareStart) / total
		}
	}
	return guest
}

// guestDensity is the probability density, a g, of what somebody else weighs:
// mostly a cat, but it may be anything on four legs.
func guestDensity(g float64) float64 {
	const mean, sd, most = 4300.0, 1300.0, 15000.0
	z := (g - mean) / sd
	p := 0.7 * math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
	if g < most {
		p += 0.3 / most
	}
	return p + 1e-9
}

// Where a cat's weight starts from.
const (
	startSD     = 0.018  // of a stated weight, as a part of it
	afreshShare = 0.1    // how often a stated weight is far off
	afreshSD    = 0.12   // by this part of it
	unknownMean = 4300.0 // of a cat of which no weight is stated, g
	unknownSD   = 1500.0
)

func startTrack(c home.Cat) track {
	t := track{
		level: c.WeightKg * 1000, pss: slopeStart * slopeStart,
		scatter: scatterStart * scatterStart, dof: scatterDof,
	}
	sd := startSD * t.level
	if c.WeightKg <= 0 {
		t.level, sd = unknownMean, unknownSD
	}
	t.pll = sd * sd
	return t
}

// widen makes t a track whose stated weight is not to be trusted.
func (t *track) widen() {
	sd := afreshSD * t.level
	t.pll = math.Max(t.pll, sd*sd)
}

// growth is the slope, in g a day, that a cat of c's age tends to: about 100 g
// a week for a kitten, ending at thirteen months (common practice, no published
// source).
func growth(c home.Cat, t time.Time) float64 {
	if c.Born.IsZero() || c.BornYear {
		return 0
	}
	const rate, full, done = 14.0, 150.0, 400.0
	age := t.Sub(c.Born).Hours() / 24
	return rate * math.Min(1, math.Max(0, (done-age)/(done-full)))
}
