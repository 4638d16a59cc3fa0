package weigh

import (
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// Beside a plain record of what was taken in since the last naming, or is dated after
// it, any mixture of new, repeated and late readings is told alike.
func TestTaken_Again_ForgetsWhatWasNamed(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	lately, plain := taken{}, map[int]bool{}
	again, late, until := 0, 0, 0
	for range 20_000 {
		if rng.IntN(3) == 0 {
			until += rng.IntN(4)
			lately.release(noon.Add(time.Duration(until) * time.Second))
			for at := range plain {
				if at < until {
					delete(plain, at)
				}
			}
		}
		at := until - 10 + rng.IntN(200)
		got := lately.again(home.Reading{Source: "box-1", Quantity: home.Weight, Time: noon.Add(time.Duration(at) * time.Second)})
		if got != plain[at] {
			t.Fatalf("the reading at %d, named until %d: again %v, want %v", at, until, got, plain[at])
		}
		if plain[at] {
			again++
		}
		if at < until {
			late++
		}
		plain[at] = true
	}
	if again < 100 || late < 100 || len(lately) > 1000 {
		t.Errorf("%d again, %d late, %d kept: too few of the first two, or too many of the last", again, late, len(lately))
	}
}
