package home

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// KnownLoad is a known mass on a scale, or the empty scale, and what the scale
// said while it rested.
type KnownLoad struct {
	Kg       float64   // what was put on, 0 for nothing
	SDKg     float64   // its standard uncertainty: half of a stated tolerance over the root of 3, or 0 for nothing put on
	Load     []float64 // readings at rest, kg, as the scale sent them
	From, To time.Time // when they were read; zero where only the readings are known
}

// Calibration is how the loads of a source become masses from a date on, and how
// far to trust them. A scale weighs by difference, so that only the gain bears on
// a cat. What was made later replaces what was made earlier, from its From on.
type Calibration struct {
	Source string
	At     time.Time // when it was made; with Source, its identity
	From   time.Time // of the first load that it holds for
	By     string    // who made it, as they call themselves
	Points []KnownLoad

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

// coverage is the factor for about 95 % (JCGM 100:2008, 6.2.1).
const coverage = 2.0

// Correct turns a load into a mass, both kg.
func (c Calibration) Correct(loadKg float64) float64 { return c.OffsetKg + c.Gain*loadKg }

// SpanSD is the part of the standard uncertainty, kg, of a body of kg that the
// calibration brings, however often it is weighed: of the gain and of the bend.
func (c Calibration) SpanSD(kg float64) float64 {
	bend := c.LinearityKg / math.Sqrt(3) // somewhere within the largest seen (JCGM 100:2008, 4.3.7)
	return math.Hypot(kg/c.Gain*c.GainSD, bend)
}

// SD is the standard uncertainty of a body of kg weighed once by difference, the
// empty scale before it: that of the calibration, and of two readings.
func (c Calibration) SD(kg float64) float64 {
	return math.Hypot(c.SpanSD(kg), math.Sqrt2*c.Gain*c.RepeatabilityKg)
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

// Session is the time in which known masses lay on the scale; zero where the
// points do not say.
func (c Calibration) Session() (from, to time.Time) {
	for _, p := range c.Points {
		if p.From.IsZero() || p.To.IsZero() {
			continue
		}
		if from.IsZero() || p.From.Before(from) {
			from = p.From
		}
		if p.To.After(to) {
			to = p.To
		}
	}
	return from, to
}

// Valid returns nil if c can be stored and used, or what is wrong with it.
func (c Calibration) Valid() error {
	if err := ValidID("source", c.Source); err != nil {
		return err
	}
	for _, t := range []time.Time{c.At, c.From} {
		if t.Year() < 1970 || t.Year() > 2200 {
			return fmt.Errorf("time %s of a calibration is not between 1970 and 2200", t.Format(time.RFC3339))
		}
	}
	if len(c.Points) < 2 || len(c.Points) > MaxPoints {
		return fmt.Errorf("a calibration has 2 to %d points, not %d", MaxPoints, len(c.Points))
	}
	if len(c.By) > 200 {
		return fmt.Errorf("keep the name under 200 bytes")
	}
	for _, p := range c.Points {
		if err := p.Valid(); err != nil {
			return err
		}
	}
	return c.validFigures()
}

// MaxPoints and MaxRests are how many points a calibration may have, and how many
// readings a point.
const (
	MaxPoints = 50
	MaxRests  = 200
)

func (c Calibration) validFigures() error {
	if !(c.Gain > 1e-6 && c.Gain < 1e6) {
		return fmt.Errorf("a gain of %.4g", c.Gain)
	}
	for _, v := range []float64{c.GainSD, c.OffsetKg, c.OffsetSD, c.GainCov, c.LinearityKg, c.RepeatabilityKg, c.FromKg, c.ToKg} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("a calibration with a figure of %v", v)
		}
	}
	if c.GainSD < 0 || c.LinearityKg < 0 || c.RepeatabilityKg < 0 {
		return fmt.Errorf("a calibration with an uncertainty below zero")
	}
	return nil
}

// Valid returns nil if p can be used, or what is wrong with it.
func (p KnownLoad) Valid() error {
	switch {
	case !(p.Kg >= 0) || Load.Gate(p.Kg) != nil:
		return fmt.Errorf("a known mass of %v kg", p.Kg)
	case !(p.SDKg >= 0) || p.SDKg > 10:
		return fmt.Errorf("a standard uncertainty of %v kg", p.SDKg)
	case len(p.Load) == 0:
		return fmt.Errorf("no reading of %g kg", p.Kg)
	case len(p.Load) > MaxRests:
		return fmt.Errorf("%d readings of %g kg: %d are enough", len(p.Load), p.Kg, MaxRests)
	case p.To.Before(p.From):
		return fmt.Errorf("%g kg was read until before it was put on", p.Kg)
	}
	for _, l := range p.Load {
		if err := Load.Gate(l); err != nil {
			return err
		}
	}
	return nil
}

// Always is the From of a calibration that holds for all loads so far, too.
var Always = time.Unix(0, 0).UTC()

// InForce picks of the calibrations of one source, in any order, those that hold
// for some load, by From: each holds until the From of the next.
func InForce(all []Calibration) []Calibration {
	byAge := slices.SortedStableFunc(slices.Values(all), func(a, b Calibration) int { return b.At.Compare(a.At) })
	var out []Calibration
	for _, c := range byAge {
		if len(out) == 0 || c.From.Before(out[len(out)-1].From) {
			out = append(out, c)
		}
	}
	slices.Reverse(out)
	return out
}
