package whose

import (
	"math"
	"time"

	"weighbeam/home"
)

// Where a cat's weight starts from.
const (
	startSD     = 0.011  // of a stated weight, as a part of it
	afreshShare = 0.1    // how often a stated weight is far off
	afreshSD    = 0.12   // by this part of it
	unknownMean = 4300.0 // of a cat of which no weight is stated, g
	unknownSD   = 1500.0
)

func startTrack(c home.Cat) track {
	t := track{
		level: c.WeightKg * 1000, pss: slopeStart * slopeStart,
		scatter: scatterUsual * scatterUsual, dof: scatterWorth, stated: c.WeightKg > 0,
	}
	sd := startSD * t.level
	if c.WeightKg <= 0 {
		t.level, sd = unknownMean, unknownSD
	}
	t.pll, t.sure = sd*sd, 1/(sd*sd)
	return t
}

// widen makes t a track whose stated weight is not to be trusted.
func (t *track) widen() {
	sd := afreshSD * t.level
	t.pll = math.Max(t.pll, sd*sd)
	t.sure = 1 / t.pll
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
