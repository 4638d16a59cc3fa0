package stat

import (
	"cmp"
	"math"
	"slices"
)

// Interval is an estimate with its central posterior interval.
type Interval struct{ Mid, Lo, Hi float64 }

// RampProfile is what is known of a trend whose onset and slope are both uncertain.
type RampProfile struct {
	Onset  Interval
	Slope  Interval
	Change Interval // slope times the time since the onset
	Lag    Interval // what the filter's first state has not yet followed of it
}

// Profile returns the joint posterior of onset and slope at time t with central
// intervals of the given confidence. The prior is flat over onsets in time and
// flat over the logarithm of the slope between the two limits, which have one
// sign. A proper prior matters: an interval from the likelihood at the moment of
// detection is too steep, since steep noise is what crosses a threshold first.
func (r *Ramps) Profile(t, lo, hi, confidence float64) (RampProfile, bool) {
	slopes := logGrid(lo, hi, profileSlopes)
	cells := make([]cell, 0, len(r.onsets)*len(slopes))
	top := math.Inf(-1)
	for i := range r.onsets {
		o := &r.onsets[i]
		if o.info <= 0 {
			continue
		}
		span := math.Log(r.spacing(i))
		for _, b := range slopes {
			w := b*o.score - b*b*o.info/2 + span
			top = max(top, w)
			cells = append(cells, cell{onset: o.at, slope: b, weight: w, lag: b * (t - o.at - o.state[0])})
		}
	}
	if len(cells) == 0 {
		return RampProfile{}, false
	}
	for i := range cells {
		cells[i].weight = math.Exp(cells[i].weight - top)
	}
	tail := (1 - confidence) / 2
	return RampProfile{
		Onset:  quantiles(cells, tail, func(c *cell) float64 { return c.onset }),
		Slope:  quantiles(cells, tail, func(c *cell) float64 { return c.slope }),
		Lag:    quantiles(cells, tail, func(c *cell) float64 { return c.lag }),
		Change: quantiles(cells, tail, func(c *cell) float64 { return c.slope * (t - c.onset) }),
	}, true
}

const profileSlopes = 48

type cell struct{ onset, slope, lag, weight float64 }

// spacing is the time for which onset i stands.
func (r *Ramps) spacing(i int) float64 {
	if i == 0 {
		return 1
	}
	return max(r.onsets[i].at-r.onsets[i-1].at, 1e-9)
}

// logGrid returns n points from lo to hi, both of one sign, evenly in logarithm.
func logGrid(lo, hi float64, n int) []float64 {
	grid := make([]float64, n)
	for i := range grid {
		grid[i] = lo * math.Pow(hi/lo, float64(i)/float64(n-1))
	}
	return grid
}

// quantiles returns the weighted median and the tail quantiles of f over cells.
func quantiles(cells []cell, tail float64, f func(*cell) float64) Interval {
	type point struct{ v, w float64 }
	points := make([]point, len(cells))
	total := 0.0
	for i := range cells {
		points[i] = point{f(&cells[i]), cells[i].weight}
		total += cells[i].weight
	}
	slices.SortFunc(points, func(a, b point) int { return cmp.Compare(a.v, b.v) })
	at := func(q float64) float64 {
		sum := 0.0
		for _, p := range points {
			sum += p.w
			if sum >= q*total {
				return p.v
			}
		}
		return points[len(points)-1].v
	}
	return Interval{Mid: at(0.5), Lo: at(tail), Hi: at(1 - tail)}
}
