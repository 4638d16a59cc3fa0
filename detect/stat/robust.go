package stat

import (
	"cmp"
	"math"
	"slices"
)

// madScale makes the median absolute deviation of a normal sample estimate its
// standard deviation: 1 / (quantile of the standard normal at 3/4), rounded as
// R's mad rounds it.
const madScale = 1.4826

// finite returns a copy of x without what is not finite.
func finite(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if isFinite(v) {
			out = append(out, v)
		}
	}
	return out
}

func isFinite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// sorted returns the finite values of x in ascending order.
func sorted(x []float64) []float64 {
	out := finite(x)
	slices.Sort(out)
	return out
}

// middle is the median of values in ascending order, NaN for none.
func middle(s []float64) float64 {
	n := len(s)
	switch {
	case n == 0:
		return math.NaN()
	case n%2 == 1:
		return s[n/2]
	}
	return s[n/2-1] + (s[n/2]-s[n/2-1])/2
}

// Median is the middle value of x, or the mean of the two in the middle.
func Median(x []float64) float64 { return middle(sorted(x)) }

// Middle is the [Median] of finite values, which it puts in another order: for where
// a copy to sort would be dear.
func Middle(x []float64) float64 {
	n := len(x)
	if n == 0 {
		return math.NaN()
	}
	above := Nth(x, n/2)
	if n%2 == 1 {
		return above
	}
	below := slices.Max(x[:n/2])
	return below + (above-below)/2
}

// Nth is the value that would stand at k were x in ascending order; x is put in
// another order, nothing over it before k and nothing under it after (quickselect,
// Hoare 1961).
func Nth[T cmp.Ordered](x []T, k int) T {
	for lo, hi := 0, len(x)-1; lo < hi; {
		pivot := x[lo+(hi-lo)/2]
		i, j := lo, hi
		for i <= j {
			for x[i] < pivot {
				i++
			}
			for x[j] > pivot {
				j--
			}
			if i <= j {
				x[i], x[j] = x[j], x[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}

// MAD is the median absolute deviation from the median, times 1.4826, so that
// it estimates the standard deviation of a normal sample. Half of x may be
// arbitrarily wrong. It is 0 where more than half of x are equal.
func MAD(x []float64) float64 {
	s := sorted(x)
	m := middle(s)
	for i, v := range s {
		s[i] = math.Abs(v - m)
	}
	slices.Sort(s)
	return madScale * middle(s)
}

// WeightedMedian is the value at which the weights below and above it are
// balanced: the smallest value whose cumulated weight exceeds half the total,
// or the midpoint with the next where it is exactly half. Pairs whose weight is
// not positive are left out; a length that does not match is cut to the shorter.
func WeightedMedian(x, w []float64) float64 {
	type item struct{ v, w float64 }
	var few [16]item // what a cat weighs on a day fits
	items := few[:0]
	total := 0.0
	for i := range min(len(x), len(w)) {
		if isFinite(x[i]) && isFinite(w[i]) && w[i] > 0 {
			items = append(items, item{x[i], w[i]})
			total += w[i]
		}
	}
	slices.SortFunc(items, func(a, b item) int { return cmp.Compare(a.v, b.v) })
	sum := 0.0
	for i, it := range items {
		sum += it.w
		if sum == total/2 && i+1 < len(items) {
			return it.v + (items[i+1].v-it.v)/2
		}
		if sum > total/2 {
			return it.v
		}
	}
	return math.NaN()
}

// HodgesLehmann is the median of the means of all pairs of x, each value paired
// with itself too: a location that a quarter of wrong values cannot carry off
// and that loses 5 % against the mean on normal data (Hodges & Lehmann 1963).
// It costs n*n/2 in time and memory: for samples of hundreds.
func HodgesLehmann(x []float64) float64 {
	x = finite(x)
	means := make([]float64, 0, len(x)*(len(x)+1)/2)
	for i := range x {
		for j := i; j < len(x); j++ {
			means = append(means, x[i]+(x[j]-x[i])/2)
		}
	}
	return Median(means)
}
