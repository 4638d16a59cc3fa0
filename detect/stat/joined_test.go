package stat

import (
	"math"
	"slices"
	"testing"
)

// TestJoinedLines_Exact checks against every continuous piecewise-linear fit
// enumerated (segmentation_exact.json, CLIN_A and CLIN_B).
func TestJoinedLines_Exact(t *testing.T) {
	for name, d := range readExact(t) {
		if len(d.ByKnots) == 0 {
			continue
		}
		got := JoinedLines(index(len(d.Y)), d.Y, 2, 3)
		for m, want := range d.ByKnots[:4] {
			if !slices.Equal(got[m].Knots, want.Knots) {
				t.Errorf("%s: knots %v, want %v", name, got[m].Knots, want.Knots)
			}
			near(t, name+" cost", got[m].Cost, want.RSS, 1e-8)
			for i, slope := range got[m].slopes() {
				near(t, name+" slope", slope, want.Slopes[i], 1e-8)
			}
		}
	}
}

// TestJoinedLines_Norris is the linear regression of NIST StRD: with no bend a
// joined line is a straight one.
func TestJoinedLines_Norris(t *testing.T) {
	x := []float64{.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777, 558.2, .4, .6, 775.5, 666.9, 338, 447.5, 11.6, 556, 228.1, 995.8, 887.6, 120.2, .3, .3, 556.8, 339.1, 887.2, 999, 779, 11.1, 118.3, 229.2, 669.1, 448.9, .5}
	y := []float64{.1, 338.8, 118.1, 888, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, .3, .1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998, 888.8, 119.6, .3, .6, 557.6, 339.3, 888, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, .2}
	// A joined line wants its samples in time order.
	order := index(len(x))
	slices.SortStableFunc(order, func(a, b float64) int { return int(math.Copysign(1, x[int(a)]-x[int(b)])) })
	var sx, sy []float64
	for _, i := range order {
		sx, sy = append(sx, x[int(i)]), append(sy, y[int(i)])
	}
	line := JoinedLines(sx, sy, 2, 0)[0]
	near(t, "slope", line.slopes()[0], 1.00211681802045, 1e-12)
	near(t, "residual sum of squares", line.Cost, 26.6173985294224, 1e-8)
	near(t, "standard error of the slope", math.Sqrt(line.Cost/34*line.lastSlopeVariance(sx)), 0.429796848199937e-3, 1e-12)
}

func TestJoinedLines_Unusable(t *testing.T) {
	for name, got := range map[string][]Joined{
		"two samples": JoinedLines([]float64{0, 1}, []float64{1, 2}, 2, 1),
		"one time":    JoinedLines([]float64{1, 1, 1}, []float64{1, 2, 3}, 2, 1),
		"missing":     JoinedLines([]float64{0, 1, 2}, []float64{1, math.NaN(), 3}, 2, 1),
	} {
		if got != nil {
			t.Errorf("%s: %v", name, got)
		}
	}
}
