package detect

import "math"

// rampThreshold is the log-likelihood ratio over which a ramp is sure, for a
// budget of false findings a cat-year.
func rampThreshold(budget float64) float64 {
	return 6 - math.Log(budget/0.1)
}
