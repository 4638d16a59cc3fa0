package stat

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// fitted is one description of a series that competes for being its trend.
type fitted struct {
	shape      string
	n          int
	breaks     []int
	cost       float64
	parameters float64
	residuals  func() []float64
	joined     Joined // for ShapeJoined
}

const (
	mostLevels = 12 // changes looked for
	mostLines  = 6
)

// shortestSegment is how many samples a segment has at least: few enough for a
// short series to have changes, enough in a long one that a week's wobble is
// none.
func (s thinned) shortestSegment() int { return max(3, len(s.y)/50) }

func (s thinned) candidates() []fitted {
	var all []fitted
	n, shortest := len(s.y), s.shortestSegment()
	// Rounding leaves a perfect fit a cost of about this; it must not be
	// infinitely better than another perfect one.
	floor := 1e-24*s.size() + 1e-200
	add := func(f fitted) {
		if f.parameters < float64(n) {
			f.n, f.cost = n, f.cost+floor
			all = append(all, f)
		}
	}
	for _, model := range []Shape{Level, Line} {
		own, shape, most := 1.0, ShapeLevel, mostLevels
		if model == Line {
			own, shape, most = 2, ShapeLine, mostLines
		}
		for m, g := range Segmentations(s.t, s.y, model, shortest, most) {
			add(fitted{shape: shape, breaks: g.Breaks, cost: g.Cost, parameters: own*float64(m+1) + 2*float64(m) + 1,
				residuals: func() []float64 { return s.residuals(model, g.Breaks) }})
		}
	}
	for m, j := range JoinedLines(s.t, s.y, shortest, mostLines) {
		if m == 0 {
			continue // the one line that is there already
		}
		add(fitted{shape: ShapeJoined, breaks: j.Knots, cost: j.Cost, parameters: 2 + 3*float64(m) + 1,
			residuals: func() []float64 { return s.joinedResiduals(j) }, joined: j})
	}
	return all
}

// size is the sum of squares of the series, its level included.
func (s thinned) size() float64 {
	sum := 0.0
	for _, v := range s.y {
		sum += v * v
	}
	return sum
}

// choose takes the best of all by the criterion, first as if samples were
// independent, then with the correlation that the residuals of the best show,
// until the choice stays. It returns that correlation too.
func choose(all []fitted) (best fitted, rho float64) {
	for range 4 {
		least := math.Inf(1)
		for _, f := range all {
			if v := f.criterion(rho); v < least {
				best, least = f, v
			}
		}
		next := best.correlation()
		if next <= rho {
			break
		}
		rho = next
	}
	return best, rho
}

// correlation is that of neighbouring residuals, 0 where it is no more than
// chance gives. Fitting takes some of it away: about (1+rho)/n for each parameter
// and 3 rho/n beside (after Marriott & Pope 1954, for a mean), which is given back.
func (f fitted) correlation() float64 {
	n := float64(f.n)
	rho := Lag1(f.residuals())
	if !(rho > 2/math.Sqrt(n)) {
		return 0
	}
	return min(0.95, rho+(f.parameters*(1+rho)+3*rho)/n)
}

// criterion is n log(cost/n) + parameters log n, for n effective samples.
func (f fitted) criterion(rho float64) float64 {
	worth := EffectiveN(f.n, rho)
	return worth*math.Log(f.cost/float64(f.n)) + f.parameters*math.Log(worth)
}

func (s thinned) residuals(model Shape, breaks []int) []float64 {
	sum := newSums(s.t, s.y)
	out := make([]float64, len(s.y))
	each(breaks, len(s.y), func(i, j int) {
		for k := i; k < j; k++ {
			v, _ := sum.line(model, i, j, s.t[k])
			out[k] = s.y[k] - v
		}
	})
	return out
}

// each calls f for each stretch between breaks.
func each(breaks []int, n int, f func(i, j int)) {
	from := 0
	for _, b := range breaks {
		f(from, b)
		from = b
	}
	f(from, n)
}

func (s thinned) joinedResiduals(j Joined) []float64 {
	out := make([]float64, len(s.y))
	for k := range s.y {
		out[k] = s.y[k] - j.at(s.t, s.y, k)
	}
	return out
}

// at is the value of the joined line through y at t, at the sample k.
func (j Joined) at(t, y []float64, k int) float64 {
	v := average(y) + j.line[0] + j.line[1]*(t[k]-t[0])
	for i, knot := range j.Knots {
		v += j.line[i+2] * max(0, t[k]-t[knot])
	}
	return v
}

// describe fills trend with the chosen fit of s, in indexes and times of s.
func (f fitted) describe(trend *Trend, s thinned, rho float64) {
	trend.Shape = f.shape
	n := len(s.y)
	sum := newSums(s.t, s.y)
	slopes := f.joined.slopes()
	each(f.breaks, n, func(i, j int) {
		g := TrendSegment{Start: i, End: j}
		switch f.shape {
		case ShapeLevel:
			g.Level, g.Slope = sum.line(Level, i, j, s.t[i])
		case ShapeLine:
			g.Level, g.Slope = sum.line(Line, i, j, s.t[i])
		default:
			g.Level, g.Slope = f.joined.at(s.t, s.y, i), slopes[len(trend.Segments)]
		}
		trend.Segments = append(trend.Segments, g)
	})
	last := trend.Segments[len(trend.Segments)-1]
	trend.Level = last.Level + last.Slope*(s.t[n-1]-s.t[last.Start])
	trend.Pace = last.Slope
	f.paceInterval(trend, s, sum, rho)
	f.changes(trend, s, sum, rho)
}

// paceInterval is the interval of the last slope. Where a level was preferred, the
// pace is 0 and the interval holds it. NaN where the last samples are at what is nearly
// one time.
func (f fitted) paceInterval(trend *Trend, s thinned, sum *sums, rho float64) {
	of := f.lastSlope(s, sum, rho)
	if !isFinite(of.at + of.scale) {
		trend.PaceLo, trend.PaceHi = math.NaN(), math.NaN()
		return
	}
	width := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: of.degrees}.Quantile(0.95) * of.scale
	trend.PaceLo, trend.PaceHi = min(trend.Pace, of.at-width), max(trend.Pace, of.at+width)
}

// lastSlope is the last slope by least squares, its deviation widened for the
// correlation of the residuals.
func (f fitted) lastSlope(s thinned, sum *sums, rho float64) slopeOf {
	n, start := len(s.y), 0
	if len(f.breaks) > 0 {
		start = f.breaks[len(f.breaks)-1]
	}
	m, _, _, stt, syy, sty := sum.moments(start, n)
	of := slopeOf{at: sty / stt, degrees: m - 2}
	variance := (syy - sty*sty/stt) / of.degrees / stt
	if f.shape == ShapeJoined {
		slopes := f.joined.slopes()
		of.at, of.degrees = slopes[len(slopes)-1], float64(n)-f.parameters
		variance = f.cost / of.degrees * f.joined.lastSlopeVariance(s.t)
	}
	of.scale = math.Sqrt(max(0, variance) * (1 + rho) / (1 - rho))
	return of
}
