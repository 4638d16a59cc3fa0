package visit

import "weighbeam/home"

// manner is how a kind of scale is read: what is too small to notice, and how
// long the load must rest to count as empty again.
type manner struct {
	Gate    float64 // g; smaller differences from the baseline are drift
	Rest    float64 // s of rest near the old baseline that end a stay
	Changed float64 // s of rest under it that make a new baseline
	Lift    float64 // g under it that are a lid, a bowl or the box taken off, to come back
	Near    float64 // g over the old baseline that a stay may leave; more may be a cat
	Again   float64 // s after a stay in which more belongs to it
	Settle  float64 // s after a stay before it is judged
	Wander  float64 // g^2/s: how the empty scale wanders
	Least   float64 // g; lighter is a paw, a nose or a push
}

func mannerOf(k home.Kind) manner {
	if bowl(k) {
		return manner{Gate: 2.5, Rest: 12, Changed: 15, Lift: 100, Near: 600, Again: 40, Settle: 60, Wander: 0.1 * 0.1 / 60, Least: 800}
	}
	return manner{Gate: 25, Rest: 3, Changed: 12, Lift: 300, Near: 180, Again: 6, Settle: 100, Wander: 0.4 * 0.4 / 60, Least: 250}
}

func bowl(k home.Kind) bool { return k == home.Feeder || k == home.Water }
