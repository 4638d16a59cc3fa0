package visit

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"weighbeam/home"
)

// Source: JCGM 100:2008 (GUM), annex H.3, calibration of a thermometer, table
// H.6. The eleven pairs were written from memory and then checked twice: they
// give every result the guide prints, digit for digit, and the example page of
// the GUM Tree Calculator (gtc.readthedocs.io, GUM_H3) lists the same pairs.
func TestFitLine_GUMThermometer_PrintedResults(t *testing.T) {
	temp := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	corr := []float64{-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160}
	for i := range temp {
		temp[i] -= 20
	}
	l, err := fitLine(temp, corr, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name            string
		got, want, half float64 // half a unit of the last printed digit
	}{
		{"y1", l.a, -0.1712, 5e-5},
		{"s(y1)", math.Sqrt(l.vaa), 0.0029, 5e-5},
		{"y2", l.b, 0.00218, 5e-6},
		{"s(y2)", math.Sqrt(l.vbb), 0.00067, 5e-6},
		{"r(y1,y2)", l.vab / math.Sqrt(l.vaa*l.vbb), -0.930, 5e-4},
		{"s", math.Sqrt(l.s2), 0.0035, 5e-5},
		{"b(30)", l.at(10), -0.1494, 5e-5},
		{"u(b(30))", l.sd(10), 0.0041, 5e-5},
	} {
		if math.Abs(row.got-row.want) > row.half {
			t.Errorf("%s = %.6f, the guide prints %g", row.name, row.got, row.want)
		}
	}
}

// Two exact loads fix the line: gain 2/2.02, offset -1*gain.
func TestCalibrate_TwoLoads_ExactLine(t *testing.T) {
	c, err := Calibrate([]home.KnownLoad{{Load: []float64{1, 1}}, {Kg: 2, Load: []float64{3.02, 3.02}}})
	if err != nil {
		t.Fatal(err)
	}
	if gain := 2 / 2.02; math.Abs(c.Gain-gain) > 1e-12 || math.Abs(c.OffsetKg+gain) > 1e-12 {
		t.Errorf("gain %.9f offset %.9f", c.Gain, c.OffsetKg)
	}
	if got := c.Correct(3.02); math.Abs(got-2) > 1e-12 {
		t.Errorf("corrects 3.02 to %g, want 2", got)
	}
	if c.LinearityKg > 1e-12 || len(c.Warnings) == 0 {
		t.Errorf("two loads cannot show a bend, and it should say so: %+v", c)
	}
}

// The uncertainty of the gain with one mass m of uncertainty u, readings aside,
// is gain*u/m: from the law of propagation (JCGM 100:2008, 5.1.2).
func TestCalibrate_OneMass_GainUncertainty(t *testing.T) {
	c, err := Calibrate([]home.KnownLoad{{Load: []float64{0, 0, 0}}, {Kg: 5, SDKg: 0.01, Load: []float64{5, 5, 5}}})
	if err != nil {
		t.Fatal(err)
	}
	if want := 0.01 / 5; math.Abs(c.GainSD-want) > 0.01*want {
		t.Errorf("gain SD %g, want about %g", c.GainSD, want)
	}
	if want := "good to 21 g between 0 and 5 kg"; c.Verdict() != want {
		t.Errorf("verdict %q, want %q", c.Verdict(), want)
	}
}

// A mass with a large uncertainty pulls the line less than a good one: it may
// be 100 g off without moving the gain by a thousandth.
func TestCalibrate_PoorMass_CountsLittle(t *testing.T) {
	c, err := Calibrate([]home.KnownLoad{
		{Load: []float64{0, 0.001, -0.001}},
		{Kg: 2, SDKg: 0.001, Load: []float64{2, 2.001, 1.999}},
		{Kg: 4, SDKg: 0.2, Load: []float64{4.1, 4.101, 4.099}},
	})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Gain-1) > 1e-3 {
		t.Errorf("gain %.5f, want 1 within a thousandth", c.Gain)
	}
}

// The stated uncertainty is true: over many calibrations of a scale with a known
// gain, the error of the gain in its own units has a standard deviation of one.
func TestCalibrate_StatedUncertainty_Holds(t *testing.T) {
	r := rand.New(rand.NewPCG(31, 7))
	ss, n := 0.0, 2000
	for range n {
		var pts []home.KnownLoad
		for _, kg := range []float64{0, 1, 2.5, 5} {
			p := home.KnownLoad{Kg: kg}
			trueKg := kg
			if kg > 0 {
				p.SDKg = 0.004
				trueKg += p.SDKg * r.NormFloat64()
			}
			for range 6 {
				p.Load = append(p.Load, 7+trueKg/1.03+0.003*r.NormFloat64())
			}
			pts = append(pts, p)
		}
		c, err := Calibrate(pts)
		if err != nil {
			t.Fatal(err)
		}
		z := (c.Gain - 1.03) / c.GainSD
		ss += z * z
	}
	if rms := math.Sqrt(ss / float64(n)); rms < 0.8 || rms > 1.05 {
		t.Errorf("root mean square of the error in its own uncertainty is %.3f", rms)
	}
}

// A bent scale is told apart from a noisy one.
func TestCalibrate_BentScale_Warns(t *testing.T) {
	var pts []home.KnownLoad
	for _, kg := range []float64{0, 2, 4, 6} {
		read := kg + 0.004*kg*kg
		pts = append(pts, home.KnownLoad{Kg: kg, SDKg: 0.001, Load: []float64{read, read + 0.001, read - 0.001}})
	}
	c, err := Calibrate(pts)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(strings.Join(c.Warnings, " "), "bends") || c.LinearityKg < 0.012 {
		t.Errorf("linearity %.4f kg, warnings %q", c.LinearityKg, c.Warnings)
	}
}

func TestCalibrate_Unusable_SaysWhy(t *testing.T) {
	for name, pts := range map[string][]home.KnownLoad{
		"one load":          {{Load: []float64{1}}},
		"same load twice":   {{Load: []float64{1}}, {Kg: 2, Load: []float64{1}}},
		"no readings":       {{Load: []float64{1}}, {Kg: 2}},
		"not a number":      {{Load: []float64{1}}, {Kg: 2, Load: []float64{math.NaN()}}},
		"a load beyond any": {{Load: []float64{1}}, {Kg: 2, Load: []float64{1e9}}},
		"negative mass":     {{Load: []float64{1}}, {Kg: -2, Load: []float64{3}}},
		"falling":           {{Load: []float64{3}}, {Kg: 2, Load: []float64{1}}},
		"no uncertainty":    {{Load: []float64{3}}, {Kg: 2, SDKg: math.NaN(), Load: []float64{5}}},
	} {
		_, err := Calibrate(pts)
		var he *home.Error
		if !errors.As(err, &he) || home.Hint(err) == "" {
			t.Errorf("%s: error %v has no hint", name, err)
		}
	}
}

// A later calibration with another gain shows as drift, with its uncertainty.
func TestCalibrate_DriftKg_Between(t *testing.T) {
	at := func(kg float64) home.Calibration {
		c, err := Calibrate([]home.KnownLoad{{Load: []float64{0, 0, 0}}, {Kg: 5, SDKg: 0.002, Load: []float64{kg, kg, kg}}})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	diff, sd := at(5).DriftKg(at(4.95), 4)
	if want := 4 * (5/4.95 - 1); math.Abs(diff-want) > 1e-9 || sd <= 0 || sd > 0.01 {
		t.Errorf("drift %.4f kg with SD %.4f, want %.4f", diff, sd, want)
	}
}
