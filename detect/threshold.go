package detect

import "math"

// rampThreshold is the log-likelihood ratio over which a ramp is sure, for a
// budget of false findings a cat-year. The rate at which the greatest ratio of a
// healthy cat crosses a high line falls as exp(-line), as it does for a
// generalised likelihood ratio of independent normal innovations (Siegmund and
// Venkatraman 1995, up to slowly varying factors). The line at one in ten
// cat-years was set by simulation of cats with drawn parameters, with leave for
// a model that is not quite right: testdata/weight_characteristics.txt has what
// other cats gave.
func rampThreshold(budget float64) float64 {
	return thresholdAtDefault - math.Log(budget/DefaultFalsePerCatYear)
}

const thresholdAtDefault = 6.3
