package manual

import "math"

// roundedSD is the standard uncertainty of a reading rounded to step: the value
// may lie anywhere within half a step, evenly, so its standard deviation is
// step/sqrt(12). Source: JCGM 100:2008 (GUM), 4.3.7 and F.2.2.1.
func roundedSD(step float64) float64 { return step / math.Sqrt(12) }

// difference is the mass of a cat from a person with and without it on one
// scale, with its standard uncertainty: two rounded readings, whose variances
// add (GUM 5.1.2). What else the scale gets wrong cancels, being the same twice.
func difference(with, without, step float64) (mass, sd float64) {
	return with - without, math.Sqrt2 * roundedSD(step)
}
