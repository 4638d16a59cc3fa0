package detect

import (
	"math"
	"slices"
)

// combined is what the weighings of one source say of one day.
type combined struct {
	n       int
	y, r    float64 // weighted mean and its variance
	weight  float64 // sum of the probabilities that each is good
	raw     float64 // median of all
	v       float64 // nominal variance of a single weighing
	scatter float64 // sum of squares about the mean in units of nominal variance
	dof     float64
}

// combine weighs each weighing of source s by the probability that it is good,
// given the prediction and the others of the day: a mixture of normals, worked
// out from the median of all, prediction included, in two rounds.
func (w *weights) combine(s int, mean, variance float64) combined {
	var c combined
	var ys []float64
	var buf [16]float64
	ys = buf[:0]
	for i := range w.bin {
		if w.bin[i].source == s {
			ys = append(ys, w.bin[i].y)
			c.v = w.bin[i].v
		}
	}
	c.n = len(ys)
	if c.n == 0 {
		return c
	}
	known := !math.IsInf(variance, 1)
	c.raw = median(ys)
	centre := c.raw
	if known {
		centre = median(append(ys, mean))
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
	var sum, sumY float64
	c.weight = 0
	for i := range w.bin {
		u := &w.bin[i]
		if u.source != s {
			continue
		}
		p := u.good(u.y-centre, lambda*u.v+spread)
		c.weight += p
		sum += p / (lambda * u.v)
		sumY += p * u.y / (lambda * u.v)
	}
	if sum < leastSum {
		c.weight = 0 // none is good: there is no mean
		return centre
	}
	c.y, c.r = sumY/sum, 1/sum
	if known && variance > 0 {
		return (sumY + mean/variance) / (sum + 1/variance)
	}
	return c.y
}

// good is the probability that a weighing off by e, of variance v where good, is good.
func (u *visit) good(e, v float64) float64 {
	wide := v + outlierSD*outlierSD
	in := (1 - u.stray) * math.Exp(-e*e/(2*v)) / math.Sqrt(v)
	out := u.stray * math.Exp(-e*e/(2*wide)) / math.Sqrt(wide)
	if in+out <= 0 {
		return 0
	}
	return in / (in + out)
}

// leastSum is the precision, one over percent squared, under which a day says nothing.
const leastSum = 1e-6

func (w *weights) scatter(s int, c *combined) {
	lambda := w.sources[s].noise.Variance()
	n := 0.0
	for i := range w.bin {
		u := &w.bin[i]
		if u.source != s || math.Abs(u.y-c.y) > 3.5*math.Sqrt(lambda*u.v) {
			continue
		}
		n++
		c.scatter += (u.y - c.y) * (u.y - c.y) / u.v
	}
	c.dof = n - 1
}

func median(x []float64) float64 {
	slices.Sort(x)
	n := len(x)
	if n%2 == 1 {
		return x[n/2]
	}
	return (x[n/2-1] + x[n/2]) / 2
}

// persists reports whether a day that looks like an outlier is believed: the
// third in a row that agrees with the others, within three deviations sd, is a
// new level, not an error.
func (w *weights) persists(off, sd float64) bool {
	for _, s := range w.strayed {
		if math.Abs(s-off) > 3*sd || s*off < 0 {
			w.strayed = w.strayed[:0]
			break
		}
	}
	w.strayed = append(w.strayed, off)
	return len(w.strayed) >= 3
}
