package stat

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// SlopeEstimate is a straight line through points, by medians.
type SlopeEstimate struct {
	Slope     float64 // median of the slopes between all pairs
	Lo, Hi    float64 // its interval
	Intercept float64 // median(y) - Slope * median(t)
	N         int     // points used
}

// TheilSen fits a line that 29 % of wrong points cannot carry off (Theil 1950;
// Sen 1968), with the interval that Mann-Kendall's variance gives, ties taken
// into account, limits at rounded ranks as scipy has them. Pairs with equal t
// have no slope and are left out. It costs n*n/2 in time and memory. All figures
// are NaN where no two points differ in t.
func TheilSen(t, y []float64, confidence float64) SlopeEstimate {
	t, y = pairs(t, y)
	var slopes []float64
	for i := range t {
		for j := i + 1; j < len(t); j++ {
			if t[j] != t[i] {
				slopes = append(slopes, (y[j]-y[i])/(t[j]-t[i]))
			}
		}
	}
	nan := math.NaN()
	e := SlopeEstimate{Slope: nan, Lo: nan, Hi: nan, Intercept: nan, N: len(t)}
	if len(slopes) == 0 || !(confidence > 0 && confidence < 1) {
		return e
	}
	slices.Sort(slopes)
	e.Slope = middle(slopes)
	e.Intercept = Median(y) - e.Slope*Median(t)
	n := len(slopes)
	sigma := math.Sqrt(max(0, kendallVariance(len(t), tieSizes(y), tieSizes(t))))
	half := distuv.UnitNormal.Quantile((1+confidence)/2) * sigma
	upper := min(int(math.RoundToEven((float64(n)+half)/2)), n-1)
	lower := max(int(math.RoundToEven((float64(n)-half)/2))-1, 0)
	e.Lo, e.Hi = slopes[lower], slopes[upper]
	return e
}

// TrendTest is the result of [MannKendall].
type TrendTest struct {
	S        float64 // rising pairs less falling pairs
	Variance float64 // of S were there no trend, with ties
	Z        float64 // (S -+ 1) / sqrt(Variance), 0 where S is 0
	P        float64 // two-sided, by the normal approximation
}

// MannKendall tests y, in the order it comes, for a steady rise or fall of any
// shape (Mann 1945; Kendall 1975; the formulas of Gilbert 1987, chapter 16). It
// takes the values for independent. P is 1 where fewer than three are left.
func MannKendall(y []float64) TrendTest {
	y = finite(y)
	r := TrendTest{P: 1}
	for i := range y {
		for j := i + 1; j < len(y); j++ {
			switch {
			case y[j] > y[i]:
				r.S++
			case y[j] < y[i]:
				r.S--
			}
		}
	}
	r.Variance = kendallVariance(len(y), tieSizes(y), nil)
	if len(y) < 3 || r.Variance <= 0 {
		return r
	}
	switch {
	case r.S > 0:
		r.Z = (r.S - 1) / math.Sqrt(r.Variance)
	case r.S < 0:
		r.Z = (r.S + 1) / math.Sqrt(r.Variance)
	}
	r.P = 2 * distuv.UnitNormal.Survival(math.Abs(r.Z))
	return r
}

// kendallVariance is the variance of S for n values with the given sizes of
// groups of equal ones.
func kendallVariance(n int, ties ...[]int) float64 {
	term := func(n int) float64 { m := float64(n); return m * (m - 1) * (2*m + 5) }
	v := term(n)
	for _, sizes := range ties {
		for _, size := range sizes {
			v -= term(size)
		}
	}
	return v / 18
}

// tieSizes are the sizes of groups of equal values, those of one left out.
func tieSizes(x []float64) []int {
	var sizes []int
	s := sorted(x)
	for i := 0; i < len(s); {
		j := i
		for j < len(s) && s[j] == s[i] {
			j++
		}
		if j-i > 1 {
			sizes = append(sizes, j-i)
		}
		i = j
	}
	return sizes
}

// pairs returns copies of x and y without the pairs that are not finite on both
// sides; a length that does not match is cut to the shorter.
func pairs(x, y []float64) (px, py []float64) {
	for i := range min(len(x), len(y)) {
		if isFinite(x[i]) && isFinite(y[i]) {
			px, py = append(px, x[i]), append(py, y[i])
		}
	}
	return px, py
}
