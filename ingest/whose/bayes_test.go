package whose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// bayesError is the least error with which n equally likely normals, gap apart
// with standard deviation sd, can be told apart: 2(n-1)/n Q(gap/2sd).
func bayesError(n int, gap, sd float64) float64 {
	return 2 * float64(n-1) / float64(n) * math.Erfc(gap/(2*sd)/math.Sqrt2) / 2
}

// Cats that stay as they are, told by the likeliest cat at once, are told apart
// nearly as well as if their weights and scatters were known. The bound is the
// error of Bayes' rule (Duda, Hart and Stork, Pattern Classification, 2001,
// section 2.6, from memory).
func TestAssigner_Step_StillCatsNearBayesError(t *testing.T) {
	for _, c := range []struct {
		cats    int
		gap, sd float64
	}{
		// two cats, one visit in ten cannot be told
		{2, 130, 50},
		// two cats, one in thirty
		{2, 170, 45},
		// three cats in a row
		{3, 150, 45},
	} {
		t.Run(fmt.Sprintf("%d cats %g g apart", c.cats, c.gap), func(t *testing.T) {
			r := rand.New(rand.NewPCG(77, uint64(c.gap)))
			var h home.Household
			for i := range c.cats {
				id := fmt.Sprintf("cat-%d", i)
				h.Cats = append(h.Cats, home.Cat{ID: id, Name: id, WeightKg: (4000 + c.gap*float64(i)) / 1000})
			}
			a := New(h)
			const n = 4000
			wrong := 0
			for k := range n {
				i := r.IntN(c.cats)
				at := epoch.Add(time.Duration(k) * 3 * time.Hour)
				g := 4000 + c.gap*float64(i) + c.sd*r.NormFloat64()
				a.Step(home.Visit{Source: "box-1", Start: at, End: at, Event: home.CatVisit, MassKg: g / 1000, SDKg: 0.003})
				p, ok := a.Posterior("box-1", at)
				wrong += btoi(!ok || likeliest(p) != i)
			}
			bound := bayesError(c.cats, c.gap, c.sd)
			got := float64(wrong) / n
			noise := math.Sqrt(bound * (1 - bound) / n)
			t.Logf("error %.4f, bound %.4f", got, bound)
			if got < bound-4*noise || got > bound*1.15+3*noise {
				t.Errorf("error %.4f, the bound is %.4f (± %.4f)", got, bound, noise)
			}
		})
	}
}

func likeliest(p Posterior) int {
	best := 0
	for i := range p.Cats {
		if p.Cats[i].P > p.Cats[best].P {
			best = i
		}
	}
	return best
}
