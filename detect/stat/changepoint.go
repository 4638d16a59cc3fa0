package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// changeSlack is how much log-likelihood, in units of the whole profile, a place
// for a change may lose against the best and still be in the interval of the
// stated confidence. For a jump the loss at the true place is the greater of two
// independent exponentials, one to either side (Siegmund 1988, from Hinkley
// 1970); for a bend it is half a chi-squared of one degree.
func changeSlack(bend bool, confidence float64) float64 {
	if bend {
		return distuv.ChiSquared{K: 1}.Quantile(confidence) / 2
	}
	return -math.Log(1 - math.Sqrt(confidence))
}

// changeInterval is the range of places between lo and hi whose cost is within
// the slack of the best place, for n effective samples.
func changeInterval(best, lo, hi int, n, slack float64, cost func(k int) float64) [2]int {
	least := cost(best)
	within := func(k int) bool {
		c := cost(k)
		return c <= least || n/2*math.Log(c/least) <= slack
	}
	out := [2]int{best, best}
	// The profile may dip again further off: every place is looked at.
	for k := lo; k <= hi; k++ {
		if within(k) {
			out[0], out[1] = min(out[0], k), max(out[1], k)
		}
	}
	return out
}

// changes fills in the changepoints of the chosen fit with their intervals, each
// with the others where they are.
func (f fitted) changes(trend *Trend, s thinned, sum *sums, rho float64) {
	n := len(s.y)
	worth := EffectiveN(n, rho)
	shortest := s.shortestSegment()
	bends := newTails(s.t, s.y)
	for i, b := range f.breaks {
		from, to := 0, n
		if i > 0 {
			from = f.breaks[i-1]
		}
		if i+1 < len(f.breaks) {
			to = f.breaks[i+1]
		}
		cost := func(k int) float64 { return f.costMoved(sum, bends, i, from, k, to) }
		lo, hi := from+min(shortest, b-from), to-min(shortest, to-b)
		v := changeInterval(b, lo, hi, worth, changeSlack(f.shape == ShapeJoined, 0.9), cost)
		trend.Changepoints = append(trend.Changepoints, b)
		trend.Intervals = append(trend.Intervals, v)
	}
}

// costMoved is the cost of the fit with its break i, between from and to, at k.
func (f fitted) costMoved(sum *sums, bends *tails, i, from, k, to int) float64 {
	if f.shape == ShapeJoined {
		knots := append([]int(nil), f.breaks...)
		knots[i] = k
		return bends.cost(knots)
	}
	model := Level
	if f.shape == ShapeLine {
		model = Line
	}
	own := sum.cost(model, from, f.breaks[i]) + sum.cost(model, f.breaks[i], to)
	return f.cost - own + sum.cost(model, from, k) + sum.cost(model, k, to)
}
