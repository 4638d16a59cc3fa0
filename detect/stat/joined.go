package stat

import (
	"math"
	"slices"
)

// Joined is a line through a series that bends at some of its samples without a
// jump: value(t) = Start + Slope (t - t0) + sum of Bends[j] max(0, t - t[Knots[j]]).
type Joined struct {
	Knots []int   // indexes of the samples at which it bends
	Cost  float64 // sum of squared residuals
	line  []float64
}

// JoinedLines returns the joined lines with 0, 1, 2 and up to most bends that
// fit y at t with the least sum of squares. Between two bends, and between one
// and either end, lie at least shortest samples. With one bend the optimum is
// exact. With more, each bend in turn is put at its best place given the others,
// from the fit with one bend less and the best place for another, until none
// moves: the least cost is not proved, and is checked against enumerated optima
// in the tests. Nil where a value is not finite, the lengths differ or fewer
// than three samples are left.
func JoinedLines(t, y []float64, shortest, most int) []Joined {
	n := len(y)
	if len(t) != n || n < 3 || len(finite(y)) < n || len(finite(t)) < n || t[n-1] <= t[0] {
		return nil
	}
	s := newTails(t, y)
	shortest = max(shortest, 2)
	straight, ok := s.joined(nil)
	if !ok {
		return nil
	}
	ways := []Joined{straight}
	var knots []int
	for len(knots) < most {
		at, _ := s.place(knots, shortest)
		if at < 0 {
			break
		}
		knots = s.settle(append(slices.Clone(knots), at), shortest)
		bent, ok := s.joined(knots)
		if !ok {
			break
		}
		ways = append(ways, bent)
	}
	return ways
}

// tails holds sums over the samples from each one on, from which the normal
// equations of any set of knots follow.
type tails struct {
	t, y                []float64 // centred
	n, st, stt, sy, sty []float64
	yy                  float64

	hinges []int // room for solve
	b      []float64
	sys    cholesky
}

func newTails(t, y []float64) *tails {
	n := len(y)
	s := &tails{t: make([]float64, n), y: make([]float64, n)}
	for _, a := range []*[]float64{&s.n, &s.st, &s.stt, &s.sy, &s.sty} {
		*a = make([]float64, n+1)
	}
	mean := average(y)
	for i := n - 1; i >= 0; i-- {
		u, v := t[i]-t[0], y[i]-mean
		s.t[i], s.y[i] = u, v
		s.n[i] = s.n[i+1] + 1
		s.st[i] = s.st[i+1] + u
		s.stt[i] = s.stt[i+1] + u*u
		s.sy[i] = s.sy[i+1] + v
		s.sty[i] = s.sty[i+1] + u*v
		s.yy += v * v
	}
	return s
}

// solve sets up and factors the normal equations for a constant, a slope and a
// bend at each knot, and leaves half their solution in s.b. It returns the sum of
// squared residuals; false where the knots cannot be told apart.
func (s *tails) solve(knots []int) (cost float64, ok bool) {
	// The slope is a bend at the first sample.
	s.hinges = append(append(s.hinges[:0], 0), knots...)
	p := len(s.hinges) + 1
	s.sys.of(p)
	s.b = append(s.b[:0], s.sy[0])
	s.sys.a[0] = s.n[0]
	for i, k := range s.hinges {
		row := s.sys.a[(i+1)*p:]
		row[0] = s.st[k] - s.t[k]*s.n[k]
		s.b = append(s.b, s.sty[k]-s.t[k]*s.sy[k])
		for j, l := range s.hinges[:i+1] {
			row[j+1] = s.stt[k] - (s.t[k]+s.t[l])*s.st[k] + s.t[k]*s.t[l]*s.n[k]
		}
	}
	if !s.sys.factor() {
		return math.Inf(1), false
	}
	return max(0, s.yy-s.sys.half(s.b)), true
}

// cost is the sum of squared residuals with the given knots, +Inf where they
// cannot be told apart.
func (s *tails) cost(knots []int) float64 {
	cost, _ := s.solve(knots)
	return cost
}

// joined is the fit with the given knots; false where they cannot be told apart.
func (s *tails) joined(knots []int) (Joined, bool) {
	cost, ok := s.solve(knots)
	if !ok {
		return Joined{}, false
	}
	s.sys.back(s.b)
	return Joined{Knots: slices.Clone(knots), Cost: cost, line: slices.Clone(s.b)}, true
}

// place returns the best place for one more knot beside others.
func (s *tails) place(others []int, shortest int) (at int, cost float64) {
	at, cost = -1, math.Inf(1)
	trial := make([]int, len(others)+1)
	for k := shortest; k <= len(s.y)-1-shortest; k++ {
		near := func(o int) bool { return max(k-o, o-k) < shortest }
		if slices.ContainsFunc(others, near) {
			continue
		}
		copy(trial, others)
		trial[len(others)] = k
		slices.Sort(trial)
		if c := s.cost(trial); c < cost {
			at, cost = k, c
		}
	}
	return at, cost
}

// settle moves each knot in turn to its best place until none moves.
func (s *tails) settle(knots []int, shortest int) []int {
	slices.Sort(knots)
	best := s.cost(knots)
	for moved := true; moved; {
		moved = false
		for i := range knots {
			others := slices.Delete(slices.Clone(knots), i, i+1)
			at, cost := s.place(others, shortest)
			if at >= 0 && cost < best-1e-12*(1+s.yy) {
				knots, best, moved = append(others, at), cost, true
				slices.Sort(knots)
			}
		}
	}
	return knots
}

// slopes are those of the stretches between the knots.
func (j Joined) slopes() []float64 {
	var out []float64
	run := 0.0
	for i := 1; i < len(j.line); i++ {
		run += j.line[i]
		out = append(out, run)
	}
	return out
}

// lastSlopeVariance is the variance of the last slope at the times t, for residuals
// of variance one. A bend's place is estimated too: moved a little, it shifts all
// that comes after it (Muggeo 2003), so a step at each knot stands beside its bend.
// Where steps cannot be told from bends the places are taken as known.
func (j Joined) lastSlopeVariance(t []float64) float64 {
	for _, steps := range [][]int{j.Knots, nil} {
		p := 2 + len(j.Knots) + len(steps)
		var sys cholesky
		sys.of(p)
		clear(sys.a)
		row := make([]float64, p)
		for i := range t {
			j.design(row, t, i, steps)
			for a := range row {
				for b := range row[:a+1] {
					sys.a[a*p+b] += row[a] * row[b]
				}
			}
		}
		if !sys.factor() {
			continue
		}
		// The last slope is the sum of the first slope and all bends.
		clear(row)
		for i := 1; i < 2+len(j.Knots); i++ {
			row[i] = 1
		}
		return sys.half(row)
	}
	return math.Inf(1)
}

// design fills row with the columns of sample i.
func (j Joined) design(row, t []float64, i int, steps []int) {
	row[0], row[1] = 1, t[i]-t[0]
	for k, knot := range j.Knots {
		row[2+k] = max(0, t[i]-t[knot])
	}
	for k, knot := range steps {
		row[2+len(j.Knots)+k] = 0
		if i > knot {
			row[2+len(j.Knots)+k] = 1
		}
	}
}
