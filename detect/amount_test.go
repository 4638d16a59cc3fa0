package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// TestAmount_FalseFindings proves that the plain comparison of daily amounts keeps
// to the budget in cats whose days scatter by a quarter and hang together (at an
// autocorrelation of 0.7 it would be twice that): 150
// cats, two years each.
func TestAmount_FalseFindings(t *testing.T) {
	const cats, days = 150, 730
	for _, phi := range []float64{0, 0.2, 0.4} {
		t.Run(fmt.Sprint("phi ", phi), func(t *testing.T) {
			told := map[home.Sign]int{}
			for cat := range cats {
				rng := rand.New(rand.NewPCG(uint64(cat), 77))
				signs := []sign{newDrinkingMore(&cares{}, newWeights(home.Cat{}, &cares{})), newEatingLess(&cares{})}
				x := 0.0
				for day := range days {
					x = phi*x + math.Sqrt(1-phi*phi)*rng.NormFloat64()
					at := epoch.AddDate(0, 0, day).Add(15 * time.Hour)
					amount := 60 * math.Exp(0.25*x)
					for i, q := range []home.Quantity{home.Drunk, home.Intake} {
						v := signs[i].step(Observation{Count: &home.Reading{Quantity: q, Value: amount, Time: at}})
						if v.stand == found {
							told[signs[i].kind()]++
						}
					}
				}
			}
			years := float64(cats*days) / 365.25
			for s, n := range told {
				if rate := float64(n) / years; rate > 0.1 {
					t.Errorf("%s: %.3f false findings a cat-year", s, rate)
				}
				t.Logf("%s: %.3f a cat-year", s, float64(n)/years)
			}
		})
	}
}

// TestAmount_Less_IsTold proves that a third less is told within three weeks of most cats
// whose days scatter by a sixth, one at a time of which is too little to tell.
func TestAmount_Less_IsTold(t *testing.T) {
	const cats, change = 40, 60
	told := 0
	for cat := range uint64(cats) {
		rng := rand.New(rand.NewPCG(cat, 78))
		s := newEatingLess(&cares{})
		for day := range change + 21 {
			amount := 60 * math.Exp(0.16*rng.NormFloat64())
			if day >= change {
				amount *= 2.0 / 3
			}
			at := epoch.AddDate(0, 0, day).Add(15 * time.Hour)
			if v := s.step(Observation{Count: &home.Reading{Quantity: home.Intake, Value: amount, Time: at}}); v.stand == found && day > change {
				told++
				break
			}
		}
	}
	if told < cats/2 {
		t.Errorf("told of %d cats of %d", told, cats)
	}
}
