package visit

import "weighbeam/home"

// manner is how a kind of scale is read: what is too small to notice, and how
// long the load must rest to count as empty again.
type manner struct {
	Gate    float64 // g; smaller differences from the baseline are drift
	Rest    float64 // s of rest near the old baseline that end a stay
	Changed float64 // s of rest further off that make a new baseline
	Near    float64 // g over the old baseline that a stay may leave
	Settle  float64 // s after a stay before it is judged
}

func mannerOf(k home.Kind) manner {
	switch k {
	case home.Feeder, home.Water:
		return manner{Gate: 2.5, Rest: 12, Changed: 15, Near: 60, Settle: 60}
	}
	return manner{Gate: 25, Rest: 3, Changed: 12, Near: 180, Settle: 100}
}

func bowl(k home.Kind) bool { return k == home.Feeder || k == home.Water }
