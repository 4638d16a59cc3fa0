package detect

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// TestFalling_Kitten_IsTold proves that a kitten that loses a tenth in days is told
// of, once a day on a kitchen scale as on a box, and that one that gains is not: what
// it gains from one weighing to the next is no noise of the scale.
func TestFalling_Kitten_IsTold(t *testing.T) {
	small := [][2]float64{{0, 0.1}, {60, 0.9}, {67, 0.81}, {90, 0.95}}       // a tenth in a week
	older := [][2]float64{{0, 0.1}, {30, 0.45}, {120, 1.8}, {130, 1.62}}     // a tenth in ten days
	grows := [][2]float64{{0, 0.1}, {30, 0.45}, {180, 2.6}, {330, 3.9}}      // 10 to 15 g a day
	plateau := [][2]float64{{0, 0.1}, {30, 0.45}, {120, 1.8}, {340, 1.8005}} // growth that ends early
	for _, c := range []struct {
		name   string
		truth  [][2]float64
		until  int
		source string
		rate   float64 // weighings a day
		noise  float64 // kg
		stated float64 // kg, what each says of its own uncertainty; 0 for nothing
		least  int     // of ten kittens that must be told of
		most   int
	}{
		{"small, daily, stated", small, 80, "box-1", 1, 0.005, 0.005, 10, 10},
		{"small, daily, by hand", [][2]float64{{0, 0.1}, {60, 0.9}, {67, 0.79}, {90, 0.95}}, 80, home.Hand, 1, 0.005, 0, 9, 10},
		{"small, on a box", small, 80, "box-1", 3, 0.012, 0.012, 10, 10},
		{"older, daily, by hand", older, 140, home.Hand, 1, 0.005, 0, 9, 10},
		{"gains, daily", grows, 360, "box-1", 1, 0.012, 0, 0, 0},
		{"gains, on a box", grows, 360, "box-1", 3, 0.02, 0.02, 0, 0},
		{"stops gaining", plateau, 340, home.Hand, 1, 0.012, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			told := 0
			for seed := range uint64(10) {
				s := &scenario{cat: home.Cat{ID: "cat", Name: "Cat", Born: epoch}, rng: rand.New(rand.NewPCG(seed, 19)), weights: c.truth, until: c.until}
				s.weigh(c.source, c.rate, fmt.Sprintf("25..%d", c.until), c.noise)
				for _, o := range s.seen {
					o.Weighing.SDKg = c.stated
				}
				for _, tr := range s.run() {
					if tr.Turn == home.Raised && tr.Finding.Sign == home.WeightFalling {
						told++
						t.Log(tr.At.Format(time.DateOnly), tr.Finding.Text)
						break
					}
				}
			}
			if told < c.least || told > c.most {
				t.Errorf("told of %d kittens in ten, want %d to %d", told, c.least, c.most)
			}
		})
	}
}
