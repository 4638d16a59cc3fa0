package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestSpread_Variance_Shrinks proves that the estimate starts at the pooled value,
// is the weighted mean with it, and ends at the data's own.
func TestSpread_Variance_Shrinks(t *testing.T) {
	s := Spread{Pooled: 4, Weight: 6}
	near(t, "before anything", s.Variance(), 4, 0)
	for range 6 {
		s.Add(1)
	}
	near(t, "half way", s.Variance(), 2.5, 1e-12)
	for range 10000 {
		s.Add(1)
	}
	near(t, "at last", s.Variance(), 1, 0.01)
	near(t, "how many", s.N(), 10006, 1e-9)
}

// TestSpread_Add_Fades proves that with a memory the old deviations count less.
func TestSpread_Add_Fades(t *testing.T) {
	s := Spread{Pooled: 1, Weight: 1, Memory: 20}
	for range 100 {
		s.Add(9)
	}
	for range 100 {
		s.Add(1)
	}
	near(t, "after a change", s.Variance(), 1, 0.1)
}

// simulateDays draws days of a level with that wander and unit noise.
func simulateDays(rng *rand.Rand, w Wander, n int) []float64 {
	y := make([]float64, n)
	level, wander := 0.0, w.SD*rng.NormFloat64()
	for i := range y {
		level += w.Drift * rng.NormFloat64()
		wander = w.Phi*wander + w.SD*math.Sqrt(1-w.Phi*w.Phi)*rng.NormFloat64()
		y[i] = level + wander + rng.NormFloat64()
	}
	return y
}

// TestBank_Observe_IsKalman proves that the bank's own two-state filter is the
// general one: the odds of two models are the ratio of their likelihoods.
func TestBank_Observe_IsKalman(t *testing.T) {
	grid := []Wander{{SD: 0.5, Phi: 0.6, Drift: 0.05}, {SD: 1.2, Phi: 0.6, Drift: 0.05}}
	y := simulateDays(rand.New(rand.NewPCG(2, 2)), grid[0], 30)
	b := NewBank(grid, []float64{1, 1}, 1)
	var loglik [2]float64
	for m, w := range grid {
		k := Kalman{}
		k.Append(0, diffuseVariance)
		k.Append(0, w.SD*w.SD)
		for i, v := range y {
			if i > 0 {
				phi, ql, qw := w.Step(1)
				k.Scale(&Vec{1, phi}, &Vec{ql, qw})
			}
			inn := k.Observe(&Vec{1, 1}, v, 1)
			if i > 0 {
				loglik[m] += inn.LogLik()
			}
		}
	}
	for i, v := range y {
		b.Observe(float64(i), v, 1)
	}
	p := 1 / (1 + math.Exp(loglik[1]-loglik[0]))
	near(t, "posterior variance of the wander", b.Mean().SD, math.Sqrt(p*0.25+(1-p)*1.44), 1e-6)
}

// TestBank_Mean_Learns proves that two years of a cat's own days move the pooled
// wander to the cat's, and that nothing seen leaves it pooled.
func TestBank_Mean_Learns(t *testing.T) {
	grid := []Wander{{0.2, 0.4, 0.03}, {0.2, 0.8, 0.03}, {1.4, 0.4, 0.03}, {1.4, 0.8, 0.03}}
	prior := []float64{4, 4, 1, 1}
	near(t, "pooled", NewBank(grid, prior, 1).Mean().SD, math.Sqrt(0.8*0.04+0.2*1.96), 1e-12)
	for i, truth := range grid {
		b := NewBank(grid, prior, 0.999)
		for day, y := range simulateDays(rand.New(rand.NewPCG(3, uint64(i))), truth, 730) {
			b.Observe(float64(day), y, 1)
		}
		got := b.Mean()
		near(t, "wander", got.SD, truth.SD, 0.15)
		if truth.SD > 1 {
			near(t, "correlation", got.Phi, truth.Phi, 0.1)
		}
	}
}
