package visit

import (
	"fmt"
	"math"

	"weighbeam/home"
)

// Known is a known mass on the scale, or the empty scale, and what the scale said.
type Known struct {
	Kg   float64   // what was put on, 0 for nothing
	SDKg float64   // its standard uncertainty: half of a stated tolerance over the root of 3, or 0 for nothing put on
	Load []float64 // readings of the scale at rest, kg, not corrected
}

// Calibration is how a scale's loads become masses, and how far to trust them.
// A scale weighs by difference, so that only the gain bears on a cat.
type Calibration struct {
	Gain     float64 // kg of mass a kg of load
	GainSD   float64
	OffsetKg float64 // mass = OffsetKg + Gain * load
	OffsetSD float64
	GainCov  float64 // covariance of OffsetKg and Gain

	LinearityKg     float64 // largest distance of a known mass from the line
	RepeatabilityKg float64 // standard deviation of one reading about its mean
	FromKg, ToKg    float64 // of the known masses
	Warnings        []string
}

const (
	leastReadSD = 1e-4 // kg; a scale that repeats better than this is rounding
	coverage    = 2.0  // factor for about 95 % (JCGM 100:2008, 6.2.1)
)

// Calibrate fits the line from loads to masses through the empty scale and one
// or more known masses, each with its own uncertainty, by weighted least squares.
// The errors say what is missing.
func Calibrate(points []Known) (Calibration, error) {
	const op = "calibrate"
	if len(points) < 2 {
		return Calibration{}, home.Hinted(op, "Weigh the empty scale, then at least one known mass.", "%d loads", len(points))
	}
	for i, p := range points {
		if err := p.valid(); err != nil {
			return Calibration{}, &home.Error{Op: op, Hint: "Weigh that load again.", Err: fmt.Errorf("load %d: %w", i+1, err)}
		}
	}
	c := Calibration{FromKg: math.Inf(1), ToKg: math.Inf(-1)}
	c.RepeatabilityKg = repeatability(points)
	for _, p := range points {
		c.FromKg, c.ToKg = math.Min(c.FromKg, p.Kg), math.Max(c.ToKg, p.Kg)
	}
	l, err := c.fit(points)
	if err != nil {
		return Calibration{}, &home.Error{Op: op, Hint: "Put on a mass that the scale can feel, and unlike the others.", Err: err}
	}
	if !(l.b > 0) {
		return Calibration{}, home.Hinted(op, "Check the wiring: the load falls when mass is put on.", "a gain of %.4g", l.b)
	}
	c.warn(points)
	return c, nil
}

func (p Known) valid() error {
	switch {
	case !(p.Kg >= 0) || home.Load.Gate(p.Kg) != nil:
		return fmt.Errorf("a known mass of %v kg", p.Kg)
	case !(p.SDKg >= 0) || p.SDKg > 10:
		return fmt.Errorf("a standard uncertainty of %v kg", p.SDKg)
	case len(p.Load) == 0:
		return fmt.Errorf("no reading of %g kg", p.Kg)
	}
	for _, l := range p.Load {
		if math.IsNaN(l) || math.IsInf(l, 0) {
			return fmt.Errorf("a reading of %v", l)
		}
	}
	return nil
}

// fit finds mass = a + b*load. An error of a reading counts for its share b of
// mass, so the fit is done again with the b it found.
func (c *Calibration) fit(points []Known) (line, error) {
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
func repeatability(points []Known) float64 {
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

func (c *Calibration) warn(points []Known) {
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

// Correct turns a load into a mass, both kg.
func (c Calibration) Correct(loadKg float64) float64 { return c.OffsetKg + c.Gain*loadKg }

// SD is the standard uncertainty of a body of kg weighed by difference, the
// empty scale before it: of the gain, of two readings, and of the bend.
func (c Calibration) SD(kg float64) float64 {
	read := c.Gain * c.RepeatabilityKg
	gain := kg / c.Gain * c.GainSD
	bend := c.LinearityKg / math.Sqrt(3) // somewhere within the largest seen (JCGM 100:2008, 4.3.7)
	return math.Sqrt(gain*gain + 2*read*read + bend*bend)
}

// GoodTo is the expanded uncertainty in kg, about 95 %, of a body of up to the
// heaviest known mass.
func (c Calibration) GoodTo() float64 { return coverage * c.SD(c.ToKg) }

// Verdict says in plain words how good the scale is, and where.
func (c Calibration) Verdict() string {
	g := math.Ceil(c.GoodTo()*1000 - 1e-9)
	return fmt.Sprintf("good to %.0f g between %.4g and %.4g kg", g, c.FromKg, c.ToKg)
}

// DriftKg is how much a body of kg weighs more by the later calibration d than by
// c, and the standard uncertainty of that.
func (c Calibration) DriftKg(d Calibration, kg float64) (diff, sd float64) {
	load := kg / c.Gain
	return (d.Gain - c.Gain) * load, load * math.Hypot(c.GainSD, d.GainSD)
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
