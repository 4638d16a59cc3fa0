package stat

import "math"

// cholesky is a small symmetric positive definite system whose room is used
// again and again: gonum's would allocate for each of the many thousands that a
// search for bends solves.
type cholesky struct {
	p int
	a []float64 // p*p, row by row; after factor, the lower triangle is the factor
}

// of makes room for p unknowns.
func (c *cholesky) of(p int) {
	c.p = p
	if cap(c.a) < p*p {
		c.a = make([]float64, p*p)
	}
	c.a = c.a[:p*p]
}

// factor replaces the lower triangle by its factor; false where the matrix is not
// positive definite, as far as rounding can tell.
func (c *cholesky) factor() bool {
	p := c.p
	for j := range p {
		d := c.a[j*p+j]
		least := 1e-11 * d
		for k := range j {
			d -= c.a[j*p+k] * c.a[j*p+k]
		}
		if !(d > least) {
			return false
		}
		d = math.Sqrt(d)
		c.a[j*p+j] = d
		for i := j + 1; i < p; i++ {
			v := c.a[i*p+j]
			for k := range j {
				v -= c.a[i*p+k] * c.a[j*p+k]
			}
			c.a[i*p+j] = v / d
		}
	}
	return true
}

// half turns b into z with L z = b, and returns the sum of its squares, which is
// b' A^-1 b.
func (c *cholesky) half(b []float64) float64 {
	squares := 0.0
	for i := range c.p {
		for k := range i {
			b[i] -= c.a[i*c.p+k] * b[k]
		}
		b[i] /= c.a[i*c.p+i]
		squares += b[i] * b[i]
	}
	return squares
}

// back turns z into x with L' x = z.
func (c *cholesky) back(z []float64) {
	for i := c.p - 1; i >= 0; i-- {
		for k := i + 1; k < c.p; k++ {
			z[i] -= c.a[k*c.p+i] * z[k]
		}
		z[i] /= c.a[i*c.p+i]
	}
}
