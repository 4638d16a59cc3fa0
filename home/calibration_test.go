package home

import (
	"math"
	"strings"
	"testing"
	"time"
)

func calibrated(change func(*Calibration)) Calibration {
	c := Calibration{Source: "box-1", At: noon, From: Always, Gain: 1.02, GainSD: 0.001, OffsetKg: -5.1, ToKg: 5,
		LinearityKg: 0.003, RepeatabilityKg: 0.002,
		Points: []KnownLoad{{Load: []float64{5}}, {Kg: 5, SDKg: 0.002, Load: []float64{9.9, 9.91}}}}
	change(&c)
	return c
}

func TestCalibration_Valid(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*Calibration)
		want   string // part of the error; "" for none
	}{
		{"a calibration", func(*Calibration) {}, ""},
		{"no source", func(c *Calibration) { c.Source = "" }, "slug"},
		{"no date", func(c *Calibration) { c.At = time.Time{} }, "1970"},
		// One load is no line.
		{"one point", func(c *Calibration) { c.Points = c.Points[:1] }, "points"},
		// A wire the wrong way round, or a figure that no fit gives.
		{"falling", func(c *Calibration) { c.Gain = -1 }, "gain"},
		{"no gain", func(c *Calibration) { c.Gain = math.NaN() }, "gain"},
		{"no uncertainty", func(c *Calibration) { c.GainSD = math.Inf(1) }, "figure"},
		{"below zero", func(c *Calibration) { c.RepeatabilityKg = -1 }, "below zero"},
		{"a long name", func(c *Calibration) { c.By = strings.Repeat("x", 201) }, "200"},
		{"nothing read", func(c *Calibration) { c.Points[1].Load = nil }, "no reading"},
		{"too much read", func(c *Calibration) { c.Points[1].Load = make([]float64, MaxRests+1) }, "enough"},
		{"backwards", func(c *Calibration) { c.Points[1].From = noon; c.Points[1].To = noon.Add(-1) }, "until before"},
		{"grams for kilograms", func(c *Calibration) { c.Points[1].Load = []float64{9900} }, "check the unit"},
	} {
		err := calibrated(row.change).Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
}

// By hand: at 5.1 kg a gain of 1.02 with a standard uncertainty of 0.001 brings
// 5.1/1.02*0.001 = 5 g; a bend of at most 3 g is rectangular, 3/sqrt 3 g (JCGM
// 100:2008, 4.3.7); two readings bring sqrt 2 * 1.02 * 2 g.
func TestCalibration_SD_AddsItsParts(t *testing.T) {
	c := calibrated(func(*Calibration) {})
	span := math.Hypot(0.005, 0.003/math.Sqrt(3))
	if got := c.SpanSD(5.1); math.Abs(got-span) > 1e-12 {
		t.Errorf("span %g, want %g", got, span)
	}
	if got, want := c.SD(5.1), math.Hypot(span, math.Sqrt2*1.02*0.002); math.Abs(got-want) > 1e-12 {
		t.Errorf("got %g, want %g", got, want)
	}
	if got := c.Correct(5); math.Abs(got) > 1e-12 {
		t.Errorf("the empty scale weighs %g", got)
	}
}

// What was made later replaces what was made earlier from its own date on, and
// nothing before that; where it reaches back further, the earlier one is gone.
func TestInForce_LaterReplaces(t *testing.T) {
	day := func(d int) time.Time { return noon.AddDate(0, 0, d) }
	at := func(made, from int, gain float64) Calibration {
		return calibrated(func(c *Calibration) { c.At, c.From, c.Gain = day(made), day(from), gain })
	}
	for _, row := range []struct {
		name string
		all  []Calibration
		want []float64 // gains, by From
	}{
		{"none", nil, nil},
		{"two in turn", []Calibration{at(1, 1, 1), at(9, 9, 2)}, []float64{1, 2}},
		{"in any order", []Calibration{at(9, 9, 2), at(1, 1, 1)}, []float64{1, 2}},
		{"the later reaches back", []Calibration{at(1, 1, 1), at(9, 0, 2)}, []float64{2}},
		{"between two", []Calibration{at(1, 1, 1), at(2, 8, 2), at(9, 5, 3)}, []float64{1, 3}},
		{"the same date", []Calibration{at(1, 1, 1), at(2, 1, 2)}, []float64{2}},
	} {
		got := InForce(row.all)
		if len(got) != len(row.want) {
			t.Errorf("%s: %d in force, want %v", row.name, len(got), row.want)
			continue
		}
		for i, c := range got {
			if c.Gain != row.want[i] {
				t.Errorf("%s: number %d has the gain %g, want %g", row.name, i, c.Gain, row.want[i])
			}
		}
	}
}

func TestCalibration_Session_SpansItsPoints(t *testing.T) {
	c := calibrated(func(*Calibration) {})
	if from, to := c.Session(); !from.IsZero() || !to.IsZero() {
		t.Errorf("points without times: %v to %v", from, to)
	}
	c.Points[0].From, c.Points[0].To = noon, noon.Add(time.Minute)
	c.Points[1].From, c.Points[1].To = noon.Add(2*time.Minute), noon.Add(3*time.Minute)
	if from, to := c.Session(); !from.Equal(noon) || !to.Equal(noon.Add(3*time.Minute)) {
		t.Errorf("%v to %v", from, to)
	}
}
