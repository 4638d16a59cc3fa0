package stat

import "math"

// Lag1 is the autocorrelation of x at lag one: the sum of products of
// neighbouring deviations from the mean over the sum of squared deviations (the
// definition of NIST StRD). A missing value breaks the chain: its two products
// are left out. NaN for fewer than three values or for a constant series.
func Lag1(x []float64) float64 {
	values := finite(x)
	if len(values) < 3 {
		return math.NaN()
	}
	mean := average(values)
	var products, squares float64
	for i, v := range x {
		if !isFinite(v) {
			continue
		}
		squares += (v - mean) * (v - mean)
		if i+1 < len(x) && isFinite(x[i+1]) {
			products += (v - mean) * (x[i+1] - mean)
		}
	}
	if squares == 0 {
		return math.NaN()
	}
	return products / squares
}

// average is the mean by two passes: the second takes back what rounding lost
// in the first, so that a small spread on a large level is kept.
func average(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	mean := sum / float64(len(x))
	rest := 0.0
	for _, v := range x {
		rest += v - mean
	}
	return mean + rest/float64(len(x))
}

// EffectiveN is how many independent values tell as much about a mean as n
// values of a first-order autoregression with correlation rho between
// neighbours: n / (1 + 2 sum (1-k/n) rho^k), exact for any n. rho is taken into
// -0.99 to 0.99; NaN counts as no correlation.
func EffectiveN(n int, rho float64) float64 {
	if n <= 0 {
		return 0
	}
	if math.IsNaN(rho) {
		rho = 0
	}
	rho = max(-0.99, min(0.99, rho))
	m := float64(n)
	// The sum in closed form, so that long windows cost nothing.
	sum := rho/(1-rho) - rho*(1-math.Pow(rho, m))/(m*(1-rho)*(1-rho))
	return m / (1 + 2*sum)
}
