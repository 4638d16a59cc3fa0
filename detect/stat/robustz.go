package stat

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// RobustZ is how many standard errors the median of recent lies from the median
// of baseline. The spread is the baseline's Qn; both medians are charged for
// the baseline's autocorrelation at lag one by their effective n, since
// neighbouring days tell less than independent ones (see [EffectiveN]). Where most
// of the baseline is one value, as counts of a few whole breaths are, Qn is 0 and the
// standard deviation stands in, which an outlier makes larger and z smaller. NaN
// where either side is empty, the baseline has fewer than five values, or has
// no spread.
//
// The variance of a median of n normal values is pi/2 of that of their mean
// (Kendall & Stuart, from memory); for n = 1 it is the value itself.
func RobustZ(recent, baseline []float64) float64 {
	newer, older := finite(recent), finite(baseline)
	if len(newer) == 0 || len(older) < 5 {
		return math.NaN()
	}
	spread := Qn(older)
	if spread == 0 {
		spread = stat.StdDev(older, nil)
	}
	if spread == 0 {
		return math.NaN()
	}
	rho := max(0, Lag1(baseline)) // chance negative values must not make it bolder
	variance := medianVariance(len(newer), rho) + medianVariance(len(older), rho)
	return (Median(newer) - Median(older)) / (spread * math.Sqrt(variance))
}

// medianVariance is the variance of the median of n values of variance one.
func medianVariance(n int, rho float64) float64 {
	if n <= 2 {
		return 1 / EffectiveN(n, rho)
	}
	return math.Pi / 2 / EffectiveN(n, rho)
}
