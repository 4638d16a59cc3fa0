package stat

import (
	"math"
	"slices"
)

// Qn estimates the standard deviation by an order statistic of the distances
// between all pairs of x: half of x may be wrong, it needs no centre, and it
// keeps 82 % of the efficiency of the standard deviation, against 37 % for the
// MAD (Rousseeuw & Croux 1993). The constants are those of R's robustbase 0.92
// and later. It costs n*n/2 in time and memory: for samples of hundreds.
// NaN for fewer than two values.
func Qn(x []float64) float64 {
	x = finite(x)
	n := len(x)
	if n < 2 {
		return math.NaN()
	}
	d := make([]float64, 0, n*(n-1)/2)
	for i := range x {
		for j := i + 1; j < n; j++ {
			d = append(d, math.Abs(x[i]-x[j]))
		}
	}
	slices.Sort(d)
	h := n/2 + 1
	return 2.21914 * qnCorrection(n) * d[h*(h-1)/2-1]
}

// qnSmall holds the finite-sample corrections of Qn for n = 2 to 12, from
// Croux & Rousseeuw 1992 as revised in robustbase.
var qnSmall = [...]float64{.399356, .99365, .51321, .84401, .61220, .85877, .66993, .87344, .72014, .88906, .75743}

func qnCorrection(n int) float64 {
	if n <= 12 {
		return qnSmall[n-2]
	}
	m := float64(n)
	if n%2 == 1 {
		return 1 / (1 + (1.60188+(-2.1284-5.172/m)/m)/m)
	}
	return 1 / (1 + (3.67561+(1.9654+(6.987-77/m)/m)/m)/m)
}

// Sn estimates the standard deviation by the typical distance of a value to the
// others: half of x may be wrong, and its bias under outliers is smaller than
// Qn's at 58 % efficiency (Rousseeuw & Croux 1993). It costs n*n*log n: for
// samples of hundreds. NaN for fewer than two values.
func Sn(x []float64) float64 {
	x = finite(x)
	n := len(x)
	if n < 2 {
		return math.NaN()
	}
	inner := make([]float64, n)
	d := make([]float64, n)
	for i := range x {
		for j := range x {
			d[j] = math.Abs(x[i] - x[j])
		}
		slices.Sort(d)
		inner[i] = d[n/2] // the high median of the distances, its own 0 included
	}
	slices.Sort(inner)
	return 1.1926 * snCorrection(n) * inner[(n+1)/2-1] // their low median
}

// snSmall holds the finite-sample corrections of Sn for n = 2 to 9, from Croux &
// Rousseeuw 1992.
var snSmall = [...]float64{0.743, 1.851, 0.954, 1.351, 0.993, 1.198, 1.005, 1.131}

func snCorrection(n int) float64 {
	switch {
	case n <= 9:
		return snSmall[n-2]
	case n%2 == 1:
		return float64(n) / (float64(n) - 0.9)
	}
	return 1
}
