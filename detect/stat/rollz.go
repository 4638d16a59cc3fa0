package stat

import "math"

// Lagged says which values of a daily series are compared: the Recent newest
// against Baseline older ones, with Gap days between them that belong to
// neither, so that a change which is under way does not train its own baseline.
type Lagged struct {
	Recent, Gap, Baseline int // days
}

// RobustZ is how many standard errors the median of recent lies from the median
// of baseline. The spread is the baseline's Qn; both medians are charged for
// the baseline's autocorrelation at lag one by their effective n, since
// neighbouring days tell less than independent ones (see [EffectiveN]). NaN
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

// RollingZ is [RobustZ] for each day of a daily series, with what was known on
// that day and nothing later. A missing day is NaN. The first days, whose window
// would reach before the series, are NaN.
func RollingZ(daily []float64, w Lagged) []float64 {
	z := make([]float64, len(daily))
	for i := range daily {
		end := i + 1 - w.Recent
		from := end - w.Gap - w.Baseline
		if from < 0 || w.Recent < 1 || w.Gap < 0 || w.Baseline < 1 {
			z[i] = math.NaN()
			continue
		}
		z[i] = RobustZ(daily[end:i+1], daily[from:from+w.Baseline])
	}
	return z
}
