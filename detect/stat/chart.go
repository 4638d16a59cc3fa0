package stat

import "math"

// CUSUMPoint is one step of a tabular cumulative sum, in the units of the data.
type CUSUMPoint struct {
	High, Low float64 // sums of what went over and under the target by more than the slack
	Signal    bool    // either of them is over the limit
}

// CUSUM is the tabular cumulative sum of x about target: with slack k and limit
// h in the units of the data, High = max(0, High + x - target - k) and Low the
// same downwards, not reset after a signal (Page 1954; NIST/SEMATECH e-Handbook
// 6.3.2.3). A missing value leaves both sums as they are.
func CUSUM(x []float64, target, k, h float64) []CUSUMPoint {
	points := make([]CUSUMPoint, len(x))
	var p CUSUMPoint
	for i, v := range x {
		if isFinite(v) {
			p.High = max(0, p.High+v-target-k)
			p.Low = max(0, p.Low+target-k-v)
			p.Signal = p.High > h || p.Low > h
		}
		points[i] = p
	}
	return points
}

// EWMA is the exponentially weighted moving average of x: each step moves a
// share lambda of the way from the average before it, at first start, to the
// value (Roberts 1959; NIST/SEMATECH e-Handbook 6.3.2.4). A missing value leaves
// the average as it is.
func EWMA(x []float64, start, lambda float64) []float64 {
	out := make([]float64, len(x))
	z := start
	for i, v := range x {
		if isFinite(v) {
			z += lambda * (v - z)
		}
		out[i] = z
	}
	return out
}

// EWMALimits is how far the average of n values of standard deviation sigma may
// lie from its target, l of its own standard deviations. n = 0 is the limit that
// it settles at.
func EWMALimits(sigma, lambda, l float64, n int) float64 {
	width := l * sigma * math.Sqrt(lambda/(2-lambda))
	if n > 0 {
		width *= math.Sqrt(1 - math.Pow(1-lambda, 2*float64(n)))
	}
	return width
}
