package stat

import (
	"math/rand/v2"
	"testing"
)

// jumpInterval is the interval of the one change of level in y.
func jumpInterval(y []float64, confidence float64) (at int, interval [2]int) {
	n := len(y)
	s := newSums(index(n), y)
	at = Segmentations(index(n), y, Level, 5, 1)[1].Breaks[0]
	cost := func(k int) float64 { return s.cost(Level, 0, k) + s.cost(Level, k, n) }
	return at, changeInterval(at, 5, n-5, float64(n), changeSlack(false, confidence), cost)
}

// TestChangeInterval_Nile: the change is after observation 28, 1898. The interval
// of strucchange 1.5-3 (Bai 1997, from an asymptote for small changes) is 25 to 32
// at 95 %; ours, from the profile, is shorter and lies in it.
func TestChangeInterval_Nile(t *testing.T) {
	at, v := jumpInterval(nile(t), 0.95)
	if at != 28 || v[0] < 25 || v[0] >= 28 || v[1] <= 28 || v[1] > 32 {
		t.Errorf("%d in %v, want 28 in an interval within 25 to 32", at, v)
	}
}

// TestChangeInterval_Coverage: on series of the Nile's length and change, and on
// smaller and larger changes, the interval covers what it says or, since places
// are whole numbers, more.
func TestChangeInterval_Coverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 9))
	for _, jump := range []float64{0.7, 1.46, 3} {
		const trials = 600
		covered := 0
		for range trials {
			y := ar1(rng, 100, 0)
			for i := 28; i < 100; i++ {
				y[i] -= jump
			}
			if _, v := jumpInterval(y, 0.9); v[0] <= 28 && 28 <= v[1] {
				covered++
			}
		}
		if covered < trials*89/100 {
			t.Errorf("jump of %.2f: covered %d of %d, nominal 90 %%", jump, covered, trials)
		}
	}
}
