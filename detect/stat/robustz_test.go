package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestRobustZ_ByHand: Qn of 1..10 is 3.196182959 (robustbase 0.95-0), its lag-one
// autocorrelation is 0.7, so ten values count for 2.406708919 (numpy), and the
// single recent value for one.
func TestRobustZ_ByHand(t *testing.T) {
	baseline := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	near(t, "lag one", Lag1(baseline), 0.7, 1e-12)
	want := (20 - 5.5) / (3.196182959 * math.Sqrt(1+math.Pi/2/2.406708919410984))
	near(t, "z", RobustZ([]float64{20}, baseline), want, 1e-8)
}

// TestRobustZ_MostlyOneValue: counts in steps of two, of which most are the same, have no
// Qn; their standard deviation of 0.8 (by hand: two of ten lie 2 off, (4+4-10*0.16)/9)
// tells a rise all the same, and equal values tell nothing.
func TestRobustZ_MostlyOneValue(t *testing.T) {
	baseline := []float64{20, 20, 20, 22, 20, 20, 20, 20, 22, 20}
	sd := math.Sqrt((8 - 10*0.16) / 9)
	rho := math.Max(0, Lag1(baseline))
	near(t, "z", RobustZ([]float64{28}, baseline), 8/(sd*math.Sqrt(1+medianVariance(10, rho))), 1e-9)
	if z := RobustZ([]float64{28}, []float64{20, 20, 20, 20, 20, 20}); !math.IsNaN(z) {
		t.Errorf("of no spread at all: %v", z)
	}
}

// TestRobustZ_Size: on independent normal days z has about the spread of a
// standard normal, and correlation does not blow it up as it would if ignored.
func TestRobustZ_Size(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, r := range []struct{ rho, lo, hi float64 }{{0, 0.85, 1.2}, {0.5, 0.85, 1.35}} {
		var squares float64
		const trials = 2000
		for range trials {
			x := ar1(rng, 80, r.rho)
			z := RobustZ(x[73:], x[:60])
			squares += z * z / trials
		}
		if sd := math.Sqrt(squares); sd < r.lo || sd > r.hi {
			t.Errorf("rho %v: standard deviation of z is %.3f", r.rho, sd)
		}
	}
}

// ar1 is n values of a first-order autoregression with variance one.
func ar1(rng *rand.Rand, n int, rho float64) []float64 {
	x := make([]float64, n)
	v := rng.NormFloat64()
	for i := range x {
		x[i] = v
		v = rho*v + math.Sqrt(1-rho*rho)*rng.NormFloat64()
	}
	return x
}
