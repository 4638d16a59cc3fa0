package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// rival is one of the descriptions that the data do not rule out, with its
// probability: exp(-criterion/2), which the Bayes information criterion is for
// (Kass & Raftery 1995).
type rival struct {
	fitted
	p float64
}

// leastRival is the probability under which a description is no rival.
const leastRival = 0.01

// rivals are the descriptions that may be right, for residuals of correlation rho.
func rivals(all []fitted, rho float64) []rival {
	least := math.Inf(1)
	for _, f := range all {
		least = min(least, f.criterion(rho))
	}
	var out []rival
	total := 0.0
	for _, f := range all {
		if p := math.Exp((least - f.criterion(rho)) / 2); p > leastRival {
			out = append(out, rival{f, p})
			total += p
		}
	}
	for i := range out {
		out[i].p /= total
	}
	return out
}

// widen makes the intervals of the pace and of the onset of trend, which the best of
// the rivals gave, hold what the others say as well, each by its probability: which of
// them is right is not known either.
func widen(trend *Trend, among []rival, s thinned, sum *sums, rho float64) (onset [2]int) {
	paces := make([]slopeOf, len(among))
	places := make([]float64, len(s.y))
	bends := newTails(s.t, s.y)
	for i, r := range among {
		paces[i] = r.lastSlope(s, sum, rho)
		if n := len(r.breaks); n > 0 {
			r.lastPlace(places, s, sum, bends, rho)
		}
	}
	const tail = 0.05
	trend.PaceLo = min(trend.PaceLo, slopeQuantile(among, paces, tail))
	trend.PaceHi = max(trend.PaceHi, slopeQuantile(among, paces, 1-tail))
	if n := len(trend.Intervals); n > 0 {
		onset = trend.Intervals[n-1]
		onset[0] = min(onset[0], placeQuantile(places, tail))
		onset[1] = max(onset[1], placeQuantile(places, 1-tail))
	}
	return onset
}

// slopeOf is what a description says of the last slope: Student's t.
type slopeOf struct{ at, scale, degrees float64 }

// cdf is the probability that the slope is at most x.
func (s slopeOf) cdf(x float64) float64 {
	if !(s.scale > 0) {
		if x < s.at {
			return 0
		}
		return 1
	}
	return distuv.StudentsT{Mu: s.at, Sigma: s.scale, Nu: s.degrees}.CDF(x)
}

func slopeQuantile(among []rival, of []slopeOf, p float64) float64 {
	lo, hi := math.MaxFloat64, -math.MaxFloat64
	for _, s := range of {
		if !isFinite(s.at + s.scale) {
			continue // it cannot say
		}
		far := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: s.degrees}.Quantile(0.9999) * s.scale
		lo, hi = min(lo, s.at-far), max(hi, s.at+far)
	}
	return bisect(lo, hi, func(x float64) bool {
		below := 0.0
		known := 0.0
		for i, s := range of {
			if isFinite(s.at + s.scale) {
				below += among[i].p * s.cdf(x)
				known += among[i].p
			}
		}
		return below < p*known
	})
}

// lastPlace adds to places, for each sample, how likely r says that what goes on now
// began at it, its other changes where they are.
func (r rival) lastPlace(places []float64, s thinned, sum *sums, bends *tails, rho float64) {
	n, last, from := len(s.y), len(r.breaks)-1, 0
	if last > 0 {
		from = r.breaks[last-1]
	}
	shortest := s.shortestSegment()
	lo, hi := from+min(shortest, r.breaks[last]-from), n-min(shortest, n-r.breaks[last])
	worth := EffectiveN(n, rho)
	likely := make([]float64, n)
	total := 0.0
	for k := lo; k <= hi && k < n; k++ {
		likely[k] = math.Exp(worth / 2 * math.Log(r.cost/max(r.cost, r.costMoved(sum, bends, last, from, k, n))))
		total += likely[k]
	}
	for k, v := range likely {
		if total > 0 {
			places[k] += r.p * v / total
		}
	}
}

// placeQuantile is the first sample at which the sum of places reaches the share p.
func placeQuantile(places []float64, p float64) int {
	total, run := 0.0, 0.0
	for _, v := range places {
		total += v
	}
	for k, v := range places {
		if run += v; run >= p*total && run > 0 {
			return k
		}
	}
	return len(places) - 1
}
