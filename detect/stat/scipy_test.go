package stat

import (
	"math"
	"testing"
)

// scipyCases is what scipy gives; testdata/scipy.json names its versions, and
// make reference makes it again.
type scipyCases struct {
	TheilSen []struct {
		T, Y                     []float64
		Slope, Intercept, Lo, Hi float64
	} `json:"theil_sen"`
	Garwood []struct {
		N                  int
		Confidence, Lo, Hi float64
	}
	Rates []struct {
		Count1, Count2  int
		T1, T2, Null, P float64
	}
	MAD []struct {
		X           []float64
		Median, MAD float64
	} `json:"mad"`
	Dispersion []struct {
		Counts []int
		Phi, P float64
	}
}

func agrees(got, want float64) bool { return math.Abs(got-want) <= 1e-9*max(1, math.Abs(want)) }

func TestReference_Scipy(t *testing.T) {
	var of scipyCases
	readJSON(t, "scipy.json", &of)
	if len(of.TheilSen)*len(of.Garwood)*len(of.Rates)*len(of.MAD)*len(of.Dispersion) == 0 {
		t.Fatal("cases are missing")
	}
	for i, c := range of.TheilSen {
		e := TheilSen(c.T, c.Y, 0.9)
		if !agrees(e.Slope, c.Slope) || !agrees(e.Intercept, c.Intercept) || !agrees(e.Lo, c.Lo) || !agrees(e.Hi, c.Hi) {
			t.Errorf("Theil-Sen %d: %+v, scipy %g %g (%g to %g)", i, e, c.Slope, c.Intercept, c.Lo, c.Hi)
		}
	}
	for _, c := range of.Garwood {
		if lo, hi := Garwood(c.N, c.Confidence); !agrees(lo, c.Lo) || !agrees(hi, c.Hi) {
			t.Errorf("Garwood %d at %g: %g to %g, scipy %g to %g", c.N, c.Confidence, lo, hi, c.Lo, c.Hi)
		}
	}
	for _, c := range of.Rates {
		if got := CompareRates(c.Count1, c.T1, c.Count2, c.T2, c.Null); !agrees(got.Exact, c.P) {
			t.Errorf("rates %+v: p %g", c, got.Exact)
		}
	}
	for i, c := range of.MAD {
		if got := MAD(c.X); !agrees(Median(c.X), c.Median) || !agrees(got, madScale*c.MAD) {
			t.Errorf("MAD %d: %g, scipy %g", i, got, madScale*c.MAD)
		}
	}
	for _, c := range of.Dispersion {
		if phi, p := Dispersion(c.Counts); !agrees(phi, c.Phi) || !agrees(p, c.P) {
			t.Errorf("dispersion of %v: %g, p %g; scipy %g, %g", c.Counts, phi, p, c.Phi, c.P)
		}
	}
}
