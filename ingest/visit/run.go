package visit

import "math"

// run is a stretch of samples that stay within a tolerance of each other: the
// scale at rest, empty or with something inert on it.
type run struct {
	Start, End int64 // ns; End includes how long the last sample held
	Lo, Hi     float64
	Sum, Sq    float64 // of the samples, and of their squares about the first
	First      float64
	N          int
}

// extend adds a sample that held for h s, or starts a new run with it.
func (r *run) extend(p sample, h, tol float64) {
	lo, hi := math.Min(r.Lo, p.G), math.Max(r.Hi, p.G)
	if r.N == 0 || hi-lo > tol {
		*r = run{Start: p.T, Lo: p.G, Hi: p.G, First: p.G}
		lo, hi = p.G, p.G
	}
	r.Lo, r.Hi = lo, hi
	r.End = p.T + int64(h*1e9)
	r.Sum += p.G
	r.Sq += (p.G - r.First) * (p.G - r.First)
	r.N++
}

func (r *run) mean() float64 { return r.Sum / float64(max(r.N, 1)) }

// sd is the standard deviation of a sample of the run.
func (r *run) sd() float64 {
	if r.N < 2 {
		return 0
	}
	n, m := float64(r.N), r.mean()-r.First
	return math.Sqrt(math.Max(0, (r.Sq-n*m*m)/(n-1)))
}

func (r *run) duration() float64 { return seconds(r.End - r.Start) }

// gate is the difference from the baseline that is no drift or noise, g.
func (t *Tracker) gate() float64 {
	d := &t.s.Device
	return max(t.how.Gate, min(120, max(6*d.Noise, 1.5*d.Quantum, 1.3*d.Band+4*d.Noise)))
}

// tolerance is how far samples of one rest may lie apart, g, at rel over the old
// baseline. Where a cat may stand it is as tight as the device allows: only
// something inert is that quiet.
func (t *Tracker) tolerance(rel float64) float64 {
	d := &t.s.Device
	if rel < t.how.Near {
		return t.gate()
	}
	return max(8*d.Noise, 1.1*d.Quantum, 1.1*d.Band)
}

// away is how long a lid, a bowl or a box may be off before the scale without it
// is taken for the empty scale, s.
const away = 300.0

// enough is how long a rest at rel over the old baseline must last before it is
// the new one, s. Longest where it could be a cat that holds still.
func (t *Tracker) enough(rel float64) float64 {
	switch d := &t.s.Device; {
	case rel < -t.how.Lift:
		return away
	case rel < -2*t.gate():
		return t.how.Changed
	case rel < t.how.Near/3:
		return t.how.Rest
	case rel < t.how.Near:
		return 2.5 * t.how.Rest
	case t.s.Run.sd() > 1.5*math.Hypot(d.Noise, d.rounding()):
		return math.Inf(1) // it breathes
	case d.Band > 0:
		return 840 // three heartbeats of 5 minutes with nothing between them
	}
	return 180
}
