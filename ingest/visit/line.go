package visit

import (
	"errors"
	"math"
)

// line is a straight line a + b*x with the covariance of a and b.
type line struct {
	a, b          float64
	vaa, vab, vbb float64
	s2            float64 // residual sum of squares, weighted, over its degrees of freedom; 0 for none
}

var errNoLine = errors.New("a line needs two different values of x")

// fitLine fits y = a + b*x by least squares. v holds the variance of each y; nil
// means equal and not known, and the residuals give it (JCGM 100:2008, H.3.2).
// Where v is known and the residuals are larger than it allows, the covariance
// grows with them; it never shrinks.
func fitLine(x, y, v []float64) (line, error) {
	sw, sx, sy := 0.0, 0.0, 0.0
	weight := func(i int) float64 {
		if v == nil {
			return 1
		}
		return 1 / v[i]
	}
	for i := range x {
		w := weight(i)
		sw += w
		sx += w * x[i]
		sy += w * y[i]
	}
	mx, my := sx/sw, sy/sw
	sxx, sxy := 0.0, 0.0
	for i := range x {
		w := weight(i)
		sxx += w * (x[i] - mx) * (x[i] - mx)
		sxy += w * (x[i] - mx) * (y[i] - my)
	}
	if !(sxx > 0) || math.IsInf(sxx, 0) {
		return line{}, errNoLine
	}
	l := line{b: sxy / sxx}
	l.a = my - l.b*mx
	if n := len(x); n > 2 {
		for i := range x {
			r := y[i] - l.at(x[i])
			l.s2 += weight(i) * r * r / float64(n-2)
		}
	}
	scale := l.s2
	if v != nil {
		scale = math.Max(1, l.s2)
	}
	l.vbb = scale / sxx
	l.vaa = scale/sw + mx*mx*l.vbb
	l.vab = -mx * l.vbb
	return l, nil
}

func (l line) at(x float64) float64 { return l.a + l.b*x }

// sd is the standard uncertainty of the line at x.
func (l line) sd(x float64) float64 {
	return math.Sqrt(math.Max(0, l.vaa+2*x*l.vab+x*x*l.vbb))
}
