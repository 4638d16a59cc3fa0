package detect

import (
	"math"

	"weighbeam/detect/stat"
)

// combined is what the weighings of one source say of one day.
type combined struct {
	n       int
	named   float64 // how many of them are of this cat, expected
	clear   float64 // sum of the squares of these probabilities
	y, r    float64 // weighted mean and its variance
	weight  float64 // how many are of this cat and good, expected
	raw     float64 // median of all, each as likely as it is of this cat
	v       float64 // nominal variance of a single weighing
	scatter float64 // sum of squares about the mean in units of nominal variance
	dof     float64
}

// combine weighs each weighing of source s by the probability that it is of this
// cat, and that it is good, given the prediction and the others of the day: a
// mixture of normals, worked out from the median of all, prediction included, in
// two rounds.
//
// What a weighing that has the name with probability p says of the cat's weight
// is p² of what a sure one says: the information that is left when it is not seen
// whose it was (Louis 1982), where the cats that it may be of weigh the same; where
// they differ, p is near 0 or 1 and the two agree.
func (w *weights) combine(s int, mean, variance float64) combined {
	var c combined
	var ysBuf, psBuf [16]float64
	ys, ps := ysBuf[:0], psBuf[:0]
	for i := range w.bin {
		if u := &w.bin[i]; u.source == s {
			ys, ps = append(ys, u.y), append(ps, u.named)
			c.v = u.v
			c.named += u.named
			c.clear += u.named * u.named
		}
	}
	c.n = len(ys)
	if c.n == 0 || c.named == 0 {
		return c
	}
	known := !math.IsInf(variance, 1)
	c.raw = stat.WeightedMedian(ys, ps)
	centre := c.raw
	if known {
		centre = stat.WeightedMedian(append(ys, mean), append(ps, 1))
	}
	for range 2 {
		centre = w.weigh(s, &c, centre, mean, variance, known)
	}
	w.scatter(s, &c)
	return c
}

func (w *weights) weigh(s int, c *combined, centre, mean, variance float64, known bool) float64 {
	lambda := w.sources[s].noise.Variance()
	spread := 0.0
	if known {
		spread = variance
	}
	var sum, sumY, information float64
	c.weight = 0
	for i := range w.bin {
		u := &w.bin[i]
		if u.source != s {
			continue
		}
		p := u.named * good(u.y-centre, lambda*u.v+spread)
		c.weight += p
		sum += p / (lambda * u.v)
		sumY += p * u.y / (lambda * u.v)
		information += p * u.named / (lambda * u.v)
	}
	if information < leastSum {
		c.weight = 0 // none is good: there is no mean
		return centre
	}
	c.y, c.r = sumY/sum, 1/information
	if known && variance > 0 {
		return (sumY + mean/variance) / (sum + 1/variance)
	}
	return c.y
}

// good is the probability that a weighing off by e, of variance v where good, is good.
func good(e, v float64) float64 {
	wide := v + outlierSD*outlierSD
	in := (1 - outlierRate) * math.Exp(-e*e/(2*v)) / math.Sqrt(v)
	out := outlierRate * math.Exp(-e*e/(2*wide)) / math.Sqrt(wide)
	if in+out <= 0 {
		return 0
	}
	return in / (in + out)
}

// leastSum is the precision, one over percent squared, under which a day says nothing.
const leastSum = 1e-6

// clearName is how sure a name must be for a weighing to say how noisy a scale is.
const clearName = 0.8

func (w *weights) scatter(s int, c *combined) {
	lambda := w.sources[s].noise.Variance()
	n := 0.0
	for i := range w.bin {
		u := &w.bin[i]
		if u.source != s || u.named < clearName || math.Abs(u.y-c.y) > 3.5*math.Sqrt(lambda*u.v) {
			continue
		}
		n++
		c.scatter += (u.y - c.y) * (u.y - c.y) / u.v
	}
	c.dof = n - 1
}

// believed is how many days in a row that agree are no error.
const believed = 3

// persists reports whether a day that looks like an outlier is believed: the
// third in a row that agrees with the others, within three deviations sd, is a
// new level, not an error. What it says counts as that of any other day that is
// far off does: were the level to follow at once, a great loss from one day to the
// next, or while the cat was away, would leave no trace for the signs.
func (w *weights) persists(at, sd float64) bool {
	for _, s := range w.strayed {
		if math.Abs(s-at) > 3*sd {
			w.strayed = w.strayed[:0]
			break
		}
	}
	w.strayed = append(w.strayed, at)
	return len(w.strayed) >= believed
}
