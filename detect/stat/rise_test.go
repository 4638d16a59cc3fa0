package stat

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

var oneModel = []RiseModel{{Noise: 1.5, Wander: 0.8, WanderFor: 30, Prior: 1}}

// threeAWeek is n times in days, uneven, and as many values about 20.
func threeAWeek(rng *rand.Rand, n int) (t, y []float64) {
	day := 1000.5
	for range n {
		day += 1 + 2.6*rng.Float64()
		t, y = append(t, day), append(y, 20+2*rng.NormFloat64())
	}
	return t, y
}

// logDensity is the log-density of y under one model with the mean of each value
// given, from its full covariance matrix: no filter, no recursion.
func logDensity(m RiseModel, t, y, mean []float64, extra, usualSD float64) float64 {
	n := len(y)
	cov := mat.NewSymDense(n, nil)
	d := mat.NewVecDense(n, nil)
	for i := range n {
		d.SetVec(i, y[i]-mean[i])
		for j := i; j < n; j++ {
			v := usualSD*usualSD + m.Wander*m.Wander*math.Exp(-math.Abs(t[i]-t[j])/m.WanderFor)
			if i == j {
				v += m.Noise*m.Noise + extra
			}
			cov.SetSym(i, j, v)
		}
	}
	var c mat.Cholesky
	c.Factorize(cov)
	var x mat.VecDense
	if err := c.SolveVecTo(&x, d); err != nil {
		return math.NaN()
	}
	return -0.5 * (mat.Dot(d, &x) + c.LogDet())
}

// TestRises_Evidence_BruteForce proves that the recursions give the likelihood
// ratios of their definition: of the density of all values with a ramp in their
// mean to that without, by the full covariance matrix, summed over onsets and
// averaged over paces.
func TestRises_Evidence_BruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	times, y := threeAWeek(rng, 30)
	r := NewRises(20.5, 4.5, oneModel)
	const extra = 0.3
	for i := range y {
		r.Observe(times[i], y[i], extra)
	}
	flat := make([]float64, len(y))
	for i := range flat {
		flat[i] = 20.5
	}
	none := logDensity(oneModel[0], times, y, flat, extra, 4.5)
	sum := 0.0
	for onset := math.Floor(times[0]/7) * 7; onset <= times[len(y)-1]; onset += 7 {
		for _, pace := range risePaces {
			mean := make([]float64, len(y))
			for i := range mean {
				mean[i] = 20.5 + pace*max(0, times[i]-onset)/7
			}
			sum += math.Exp(logDensity(oneModel[0], times, y, mean, extra, 4.5)-none) / float64(len(risePaces))
		}
	}
	near(t, "evidence", r.Evidence(), math.Log(sum), 1e-8)
}

// TestRises_Weights_BruteForce: two models are weighted by their densities. The
// older values fade a little, so the agreement is not exact.
func TestRises_Weights_BruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	times, y := threeAWeek(rng, 12)
	models := []RiseModel{{1.8, 0.5, 30, 1}, {2.5, 0.5, 30, 3}}
	r := NewRises(20.5, 4.5, models)
	flat := make([]float64, len(y))
	for i := range y {
		flat[i] = 20.5
		r.Observe(times[i], y[i], 0)
	}
	odds := logDensity(models[1], times, y, flat, 0, 4.5) - logDensity(models[0], times, y, flat, 0, 4.5) + math.Log(3)
	w := r.weights()
	near(t, "log odds of the models", math.Log(w[1]/w[0]), odds, 0.05*math.Abs(odds)+0.1)
}

// TestRises_Estimate_Ramp: a ramp with little noise is described as it is.
func TestRises_Estimate_Ramp(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	r := NewRises(20, 5, []RiseModel{{0.3, 0.2, 30, 1}})
	const onset, pace = 1100, 1.0
	var last float64
	for day := 1000.0; day < 1160; day += 2.3 {
		r.Observe(day, 18+pace*max(0, day-onset)/7+0.3*rng.NormFloat64(), 0)
		last = day
	}
	e, ok := r.Estimate(0.9)
	if !ok {
		t.Fatal("no estimate")
	}
	near(t, "pace", e.Pace, pace, 0.1)
	near(t, "before", e.Before, 18, 0.4)
	near(t, "now", e.Now, 18+pace*(last-onset)/7, 0.7)
	near(t, "change", e.Change, e.Now-e.Before, 1e-9)
	near(t, "onset", e.Onset, onset, 6)
	if e.PaceLo > pace || e.PaceHi < pace || e.OnsetLo > onset || e.OnsetHi < onset {
		t.Errorf("intervals miss: %+v", e)
	}
}

// TestRises_Predict: before anything is seen the prior, afterwards the mean.
func TestRises_Predict(t *testing.T) {
	r := NewRises(20, 3, oneModel)
	mean, sd := r.Predict(5, 0.25)
	near(t, "prior mean", mean, 20, 1e-12)
	near(t, "prior sd", sd, math.Sqrt(9+0.8*0.8+1.5*1.5+0.25), 1e-12)
	for day := range 200 {
		r.Observe(float64(day), 25, 0)
	}
	mean, sd = r.Level()
	near(t, "level", mean, 25, 0.3)
	if sd > 0.8 {
		t.Errorf("sd of the level %v", sd)
	}
}

// TestRises_Unusable: what is not finite or comes late changes nothing, a gap of
// ten years neither panics nor fills memory, and nothing is concluded from nothing.
func TestRises_Unusable(t *testing.T) {
	r := NewRises(20, 3, oneModel)
	if _, ok := r.Estimate(0.9); ok {
		t.Error("an estimate from nothing")
	}
	r.Observe(100, 20, 0)
	before := *r
	r.Observe(101, math.NaN(), 0)
	r.Observe(math.Inf(1), 20, 0)
	r.Observe(99, 20, 0)
	r.Observe(101, 20, -1)
	if *r != before {
		t.Error("an unusable value changed the state")
	}
	r.Observe(100+3650, 20, 0)
	if e := r.Evidence(); !isFinite(e) || e > 5 {
		t.Errorf("evidence %v after a gap", e)
	}
	if r.started > riseOnsets {
		t.Errorf("%d onsets", r.started)
	}
}

// TestRises_Shift: moving all in level, and in time by whole blocks of four weeks,
// changes no evidence.
func TestRises_Shift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 2))
		times, y := threeAWeek(rng, rapid.IntRange(1, 80).Draw(t, "n"))
		level := rapid.Float64Range(-50, 50).Draw(t, "level")
		a, b := NewRises(20, 4, oneModel), NewRises(20+level, 4, oneModel)
		for i := range y {
			a.Observe(times[i], y[i], 0.2)
			b.Observe(times[i]+28*13, y[i]+level, 0.2)
		}
		if p, q := a.Evidence(), b.Evidence(); math.Abs(p-q) > 1e-6*(1+math.Abs(p)) {
			t.Fatalf("evidence %v, moved %v", p, q)
		}
	})
}

// TestGridQuantile: a flat density on a grid has quantiles on the line between
// the outer edges of its cells.
func TestGridQuantile(t *testing.T) {
	x, w := []float64{1, 2, 3, 4}, []float64{1, 1, 1, 1}
	for p, want := range map[float64]float64{0.5: 2.5, 0.25: 1.5, 0.75: 3.5, 0.125: 1} {
		near(t, "quantile", gridQuantile(x, w, p), want, 1e-12)
	}
	near(t, "one point", gridQuantile([]float64{7}, []float64{2}, 0.3), 7, 0)
}
