package visit

import (
	"fmt"
	"math"

	"weighbeam/home"
)

// leastReadSD is in kg; a scale that repeats better than this is rounding.
const leastReadSD = 1e-4

// fitting is a calibration in the making.
type fitting struct{ home.Calibration }

// Calibrate fits the line from loads to masses through the empty scale and one
// or more known masses, each with its own uncertainty, by weighted least squares.
// The result lacks its source and its dates. The errors say what is missing.
func Calibrate(points []home.KnownLoad) (home.Calibration, error) {
	const op = "calibrate"
	if len(points) < 2 {
		return home.Calibration{}, home.Hinted(op, "Weigh the empty scale, then at least one known mass.", "%d loads", len(points))
	}
	for i, p := range points {
		if err := p.Valid(); err != nil {
			return home.Calibration{}, &home.Error{Op: op, Hint: "Weigh that load again.", Err: fmt.Errorf("load %d: %w", i+1, err)}
		}
	}
	c := fitting{home.Calibration{FromKg: math.Inf(1), ToKg: math.Inf(-1), Points: points}}
	c.RepeatabilityKg = repeatability(points)
	for _, p := range points {
		c.FromKg, c.ToKg = math.Min(c.FromKg, p.Kg), math.Max(c.ToKg, p.Kg)
	}
	l, err := c.fit(points)
	if err != nil {
		return home.Calibration{}, &home.Error{Op: op, Hint: "Put on a mass that the scale can feel, and unlike the others.", Err: err}
	}
	if !(l.b > 0) {
		return home.Calibration{}, home.Hinted(op, "Check the wiring: the load falls when mass is put on.", "a gain of %.4g", l.b)
	}
	c.warn(points)
	return c.Calibration, nil
}

// fit finds mass = a + b*load. An error of a reading counts for its share b of
// mass, so the fit is done again with the b it found.
func (c *fitting) fit(points []home.KnownLoad) (line, error) {
	x, y, v := make([]float64, len(points)), make([]float64, len(points)), make([]float64, len(points))
	l := line{b: 1}
	for range 3 {
		for i, p := range points {
			read := l.b * c.RepeatabilityKg
			x[i], y[i] = mean(p.Load), p.Kg
			v[i] = p.SDKg*p.SDKg + read*read/float64(len(p.Load))
		}
		var err error
		if l, err = fitLine(x, y, v); err != nil {
			return l, err
		}
	}
	c.Gain, c.OffsetKg = l.b, l.a
	c.GainSD, c.OffsetSD, c.GainCov = math.Sqrt(l.vbb), math.Sqrt(l.vaa), l.vab
	for i := range x {
		c.LinearityKg = math.Max(c.LinearityKg, math.Abs(y[i]-l.at(x[i])))
	}
	return l, nil
}

// repeatability is the pooled standard deviation of one reading about the mean of
// its load (JCGM 100:2008, 4.2.4).
func repeatability(points []home.KnownLoad) float64 {
	ss, dof := 0.0, 0
	for _, p := range points {
		m := mean(p.Load)
		for _, l := range p.Load {
			ss += (l - m) * (l - m)
		}
		dof += len(p.Load) - 1
	}
	if dof == 0 {
		return leastReadSD
	}
	return math.Max(math.Sqrt(ss/float64(dof)), leastReadSD)
}

func (c *fitting) warn(points []home.KnownLoad) {
	add := func(s string) { c.Warnings = append(c.Warnings, s) }
	if len(points) == 2 {
		add("Two loads show no bend: a third, between them, would.")
	}
	few := false
	for _, p := range points {
		few = few || len(p.Load) < 3
	}
	if few {
		add("Take three readings or more of each load, lifting it off in between.")
	}
	if c.ToKg < 2 {
		add("The heaviest mass is lighter than a cat: use one of 3 to 5 kg.")
	}
	if c.LinearityKg > 3*c.RepeatabilityKg && c.LinearityKg > 0.005 && len(points) > 2 {
		add(fmt.Sprintf("The scale bends by %.0f g: look for a box that touches the wall or a foot that carries no load.", c.LinearityKg*1000))
	}
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
