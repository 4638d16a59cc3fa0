package visit

import "math"

// sameCell is how far a ratio may be from 1 for what was learned of the device
// and of the cats to be of use still.
const sameCell = 1.25

// Rescale goes on with loads that are ratio times what they were, plus shiftKg, as
// from the date of a calibration. It waits for the scale to be empty: during a
// stay it does nothing and reports false.
func (t *Tracker) Rescale(ratio, shiftKg float64) bool {
	s := &t.s
	if s.Mode != idle && s.Mode != seeking {
		return false
	}
	if !(ratio > 1/sameCell && ratio < sameCell) {
		*t = *New(t.kind)
		return true
	}
	to := scaling{ratio, shiftKg * 1000}
	to.baseline(&s.Base)
	to.run(&s.Run)
	s.Prev.G, s.Pend.G = to.level(s.Prev.G), to.level(s.Pend.G)
	s.Zero = to.level(s.Zero)
	d := &s.Device
	d.Quantum, d.Fresh, d.Noise, d.Band = d.Quantum*ratio, d.Fresh*ratio, math.Max(d.Noise*ratio, leastNoise), d.Band*ratio
	u := &s.Usual
	for i := range u.G {
		u.G[i] *= ratio
	}
	u.Lo, u.Hi = u.Lo*ratio, u.Hi*ratio
	return true
}

// scaling turns what was measured in old grams into new ones.
type scaling struct{ ratio, shift float64 }

func (c scaling) level(g float64) float64 { return c.ratio*g + c.shift }

func (c scaling) baseline(b *baseline) {
	b.Level, b.Slope = c.level(b.Level), c.ratio*b.Slope
	square := c.ratio * c.ratio
	b.P00, b.P01, b.P11 = square*b.P00, square*b.P01, square*b.P11
}

func (c scaling) run(r *run) {
	r.Lo, r.Hi, r.First = c.level(r.Lo), c.level(r.Hi), c.level(r.First)
	r.Sum = c.ratio*r.Sum + float64(r.N)*c.shift
	r.Sq *= c.ratio * c.ratio
}
