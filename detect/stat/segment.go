package stat

import (
	"math"
	"slices"
)

// Shape is what a segment is fitted with.
type Shape int

// The shapes of a segment: a level, or a least-squares line of its own that need
// not meet its neighbours.
const (
	Level Shape = iota
	Line
)

// Segmentation is one way of cutting a series in segments.
type Segmentation struct {
	Breaks []int   // indexes, each the first sample of a new segment
	Cost   float64 // sum of squared residuals of all segments
}

// Segmentations returns the best cut of y at t in 1, 2, ... and up to most+1
// segments of at least shortest samples: entry m has m breaks and the least
// possible sum of squares, found by dynamic programming over all cuts (segment
// neighbourhood; Auger & Lawrence 1989; Bai & Perron 2003). The best for any
// penalty is the entry with the least Cost + penalty * m. Fewer entries come
// back where no more cuts fit; none where a value is not finite or the lengths
// differ. It costs n*n*most in time and n*most in memory.
func Segmentations(t, y []float64, shape Shape, shortest, most int) []Segmentation {
	n := len(y)
	if len(t) != n || n == 0 || most < 0 || len(finite(y)) < n || len(finite(t)) < n {
		return nil
	}
	shortest = max(shortest, 1)
	if n < shortest {
		return nil
	}
	sums := newSums(t, y)
	most = min(most, n/shortest-1)
	best := make([][]float64, most+1) // best[m][j]: least cost of the first j samples with m breaks
	from := make([][]int, most+1)     // where the last segment of that cut begins
	for m := range best {
		best[m], from[m] = make([]float64, n+1), make([]int, n+1)
		for j := range best[m] {
			best[m][j] = math.Inf(1)
		}
	}
	for j := shortest; j <= n; j++ {
		best[0][j] = sums.cost(shape, 0, j)
		for i := shortest; i <= j-shortest; i++ {
			c := sums.cost(shape, i, j)
			for m := 1; m <= most && m*shortest <= i; m++ {
				if v := best[m-1][i] + c; v < best[m][j] {
					best[m][j], from[m][j] = v, i
				}
			}
		}
	}
	out := make([]Segmentation, most+1)
	for m := range out {
		out[m].Cost = best[m][n]
		for j, k := n, m; k > 0; k-- {
			j = from[k][j]
			out[m].Breaks = append(out[m].Breaks, j)
		}
		slices.Reverse(out[m].Breaks)
	}
	return out
}

// sums holds running sums of a series, from which the fit of any stretch of it
// is a few operations. The series is centred first, so that a small spread on a
// large level is not lost in the sums.
type sums struct {
	n, t, tt, y, yy, ty []float64
	t0, y0              float64
}

func newSums(t, y []float64) *sums {
	s := &sums{t0: average(t), y0: average(y)}
	for _, a := range []*[]float64{&s.n, &s.t, &s.tt, &s.y, &s.yy, &s.ty} {
		*a = make([]float64, len(y)+1)
	}
	for i := range y {
		u, v := t[i]-s.t0, y[i]-s.y0
		s.n[i+1] = s.n[i] + 1
		s.t[i+1] = s.t[i] + u
		s.tt[i+1] = s.tt[i] + u*u
		s.y[i+1] = s.y[i] + v
		s.yy[i+1] = s.yy[i] + v*v
		s.ty[i+1] = s.ty[i] + u*v
	}
	return s
}

// moments are the centred sums of squares and products of samples i to j-1.
func (s *sums) moments(i, j int) (n, t, y, stt, syy, sty float64) {
	n = s.n[j] - s.n[i]
	t, y = (s.t[j]-s.t[i])/n, (s.y[j]-s.y[i])/n
	stt = s.tt[j] - s.tt[i] - n*t*t
	syy = s.yy[j] - s.yy[i] - n*y*y
	sty = s.ty[j] - s.ty[i] - n*t*y
	return n, t, y, stt, syy, sty
}

// cost is the sum of squared residuals of samples i to j-1.
func (s *sums) cost(shape Shape, i, j int) float64 {
	_, _, _, stt, syy, sty := s.moments(i, j)
	if shape == Line && stt > 0 {
		syy -= sty * sty / stt
	}
	return max(0, syy)
}

// line is the fit of samples i to j-1: its value at the time at, and its slope,
// 0 for a level.
func (s *sums) line(shape Shape, i, j int, at float64) (value, slope float64) {
	_, t, y, stt, _, sty := s.moments(i, j)
	if shape == Line && stt > 0 {
		slope = sty / stt
	}
	return s.y0 + y + slope*(at-s.t0-t), slope
}
