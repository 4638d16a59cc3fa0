package whose

import "math"

// guests remembers what somebody else weighed: one who came once may come again. A
// visit is remembered for as much as it may have been somebody else's, so that one
// who weighs nearly what a cat of the house weighs, never sure to be a guest, is
// found by coming again and again where that cat seldom is.
type guests struct {
	seen []guest
}

type guest struct{ mass, worth float64 }

const (
	guestMost  = 256   // guests' visits remembered
	guestSD    = 50.0  // of a guest's visits about each other, g
	guestKeeps = 45.0  // days after which a memory has faded to 1/e
	guestLeast = 0.005 // a visit is remembered from this probability,
	guestSure  = 0.9   // or from this one, see guestFrom
)

func (g *guests) fade(days float64) {
	if len(g.seen) == 0 {
		return
	}
	f := math.Exp(-days / guestKeeps)
	for i := range g.seen {
		g.seen[i].worth *= f
	}
}

// add remembers a visit; where too many are, the one that is worth least is forgotten.
func (g *guests) add(mass, worth float64) {
	if len(g.seen) < guestMost {
		g.seen = append(g.seen, guest{mass, worth})
		return
	}
	least := 0
	for i := range g.seen {
		if g.seen[i].worth < g.seen[least].worth {
			least = i
		}
	}
	g.seen[least] = guest{mass, worth}
}

// density is the probability density, a g, of what somebody else weighs: as
// those who came before, or as anything on four legs, mostly a cat.
func (g *guests) density(y float64) float64 {
	const mean, sd, most = 4300.0, 1300.0, 15000.0
	any := 0.7 * bell(y, mean, sd)
	if y < most {
		any += 0.3 / most
	}
	any += 1e-9
	known, worth := 0.0, 0.0
	for _, s := range g.seen {
		worth += s.worth
		known += s.worth * bell(y, s.mass, guestSD)
	}
	return (any + known) / (1 + worth)
}

// bell is the normal density.
func bell(y, mean, sd float64) float64 {
	z := (y - mean) / sd
	return math.Exp(-z*z/2) / (sd * math.Sqrt(2*math.Pi))
}
