package detect

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"weighbeam/home"
)

// TestWeights_Step_IsTold proves that what is lost from one day to the next, or while
// nobody weighed the cat, is told, however far it lies outside of what the cat's days
// have been: the steadier cat and scale are, the more it looks like an error at first.
func TestWeights_Step_IsTold(t *testing.T) {
	for _, c := range []struct {
		pct        float64 // lost
		gap        int     // days without a weighing, in which it is lost
		rate       float64 // weighings a day
		noise      float64 // kg
		days, told int     // after the gap; of how many cats it must be told
	}{
		{5, 0, 1, 0.04, 9, 9},   // one weighing a day
		{7, 0, 3, 0.02, 9, 10},  // a quiet cat on a good scale
		{9, 0, 3, 0.04, 9, 10},  // just not a tenth
		{12, 0, 3, 0.02, 12, 9}, // far more than any day's outlier
		{20, 0, 3, 0.03, 8, 9},  // the more it is, the less it may wait
		{8, 7, 3, 0.04, 9, 10},  // back after a week
		{7, 21, 3, 0.04, 9, 10}, // and after three
	} {
		t.Run(fmt.Sprintf("%g%%/%dd/%g/%gkg", c.pct, c.gap, c.rate, c.noise), func(t *testing.T) {
			told := 0
			for seed := range uint64(10) {
				s := &scenario{cat: home.Cat{ID: "cat", Name: "Cat"}, rng: rand.New(rand.NewPCG(seed, 17)), until: 100 + c.gap + c.days}
				s.weights = [][2]float64{{0, 4.8}, {100, 4.8}, {100.5 + float64(c.gap), 4.8 * (1 - c.pct/100)}}
				s.weigh("box-1", c.rate, "0..100", c.noise)
				s.weigh("box-1", c.rate, fmt.Sprintf("%d..%d", 100+c.gap, s.until), c.noise)
				for _, tr := range s.run() {
					falls := tr.Finding.Sign == home.WeightFalling || tr.Finding.Sign == home.WeightLow
					if tr.Turn == home.Raised && falls && !tr.At.Before(dayTime(100)) {
						told++
						t.Log(tr.At, tr.Finding.Text)
						break
					}
				}
			}
			if told < c.told {
				t.Errorf("told of %d cats in 10 within %d days, want %d", told, c.days, c.told)
			}
		})
	}
}
