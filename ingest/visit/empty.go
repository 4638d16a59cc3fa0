package visit

import "math"

// observe gives an empty-scale sample to a baseline and learns the noise from it.
func (t *Tracker) observe(b *baseline, p sample, dt, creep float64) {
	d := &t.s.Device
	v := t.variance(1) + creep*creep
	if t.moved(p) {
		v += t.moving()
	}
	e, sd := b.observe(p.T, p.G, v, dt)
	if creep == 0 && dt < 600 && sd < 3*d.Noise && math.Abs(e) < 6*d.Noise {
		d.Noise = math.Max(math.Sqrt(0.99*d.Noise*d.Noise+0.01*e*e), leastNoise)
	}
}

// departs reports whether p is too far from b to be the empty scale. Where b is
// well known, a scale that sends on change says so itself.
func (t *Tracker) departs(b *baseline, p sample) bool {
	if t.moved(p) && b.sd() < t.s.Device.Band/3 {
		return true
	}
	return math.Abs(p.G-b.level(p.T)) >= t.gate()
}

// moved reports whether p was sent because the load moved, and not as a heartbeat.
func (t *Tracker) moved(p sample) bool {
	return t.s.Device.Band > 0 && math.Abs(p.G-t.s.Prev.G) > 0.95*t.s.Device.Band
}

// moving is the variance of a sample that was sent because the load moved, and
// perhaps still does, g^2.
func (t *Tracker) moving() float64 { return t.s.Device.Band * t.s.Device.Band / 3 }

// variance of the mean of n samples of the empty scale, g^2.
func (t *Tracker) variance(n int) float64 {
	d := &t.s.Device
	return d.Noise*d.Noise/float64(max(n, 1)) + d.rounding()*d.rounding()
}

// creep is how far the cell may still be from its rest after the load of the
// stay, g: OIML R 60 allows a cell of class C about 0.05 % in half an hour.
func (t *Tracker) creep(ns int64) float64 {
	s := &t.s
	c := 0.5e-3 * s.Peak * math.Exp(-seconds(ns-s.Exit)/90)
	if c < 0.3 {
		return 0
	}
	return c
}
