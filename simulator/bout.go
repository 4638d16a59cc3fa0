package simulator

// bout is a stretch of time in which a body presses on the plate in one way.
// A body is a list of bouts; between them its share changes smoothly.
type bout struct {
	last   float64 // s
	share  float64 // of its mass that rests on the plate at the end of the bout
	effort float64 // standard deviation of the acceleration of its centre, m/s²
	hz     float64 // around which it moves
	push   float64 // mean acceleration upwards, m/s²: above zero while it jumps off
	leave  float64 // kg that pass from the body to the box
	put    float64 // kg that others put into the box, below zero for taken out
}

// glitch is what goes wrong in the electronics for a while.
type glitch struct {
	fault    Fault
	from, to float64 // s since the start of the act
	kg       float64 // of a spike
}

// act is all that one happening does to one scale.
type act struct {
	startUS  int64 // microseconds since 1970
	massKg   float64
	bouts    []bout
	glitches []glitch
	seed     uint64
}

// lasts is the length of the act in seconds.
func (a *act) lasts() float64 {
	s := 0.0
	for _, b := range a.bouts {
		s += b.last
	}
	return s
}

// Efforts in m/s². A cat that sits sways by a few grams to tens of grams (4 kg
// times 0.04 over 9.81 is 16 g); digging throws its centre about by a tenth of
// gravity. Chosen from what such traces look like; no published source.
const (
	effortStill    = 0.035
	effortShift    = 0.12
	effortTurn     = 0.5
	effortDig      = 1.0
	effortWalk     = 0.7
	effortHand     = 0.8
	effortRestless = 0.25
)

// choreograph turns a happening into what it does to its scale.
func (h *House) choreograph(e *happening, b *box) *act {
	d := newDice(h.opt.Seed, "moves", e.serial)
	a := &act{startUS: e.Start.UnixMicro(), massKg: e.MassKg, seed: e.serial}
	total := e.End.Sub(e.Start).Seconds()
	switch e.Kind {
	case Visit:
		a.bouts = catMoves(d, e.Event, total)
		a.glitches = glitches(d, e.Faults, total)
	case Look:
		a.bouts = lookMoves(d, total)
	case Paw:
		a.bouts = []bout{
			{last: 0.3, share: d.between(0.03, 0.2), effort: 0.5, hz: 3},
			{last: total - 0.6, share: d.between(0.03, 0.2), effort: 1.5, hz: 3},
			{last: 0.3},
		}
	case Meal, Drink:
		a.massKg, a.bouts = 1, bowlMoves(d, e.Event, total)
	case Knocked:
		a.massKg, a.bouts = 1, knockMoves(d, total)
	case Leaned:
		a.bouts = []bout{
			{last: total * 0.2, share: 1, effort: effortHand, hz: 2},
			{last: total * 0.6, share: d.between(0.7, 1), effort: effortHand, hz: 2},
			{last: total * 0.2, effort: effortHand, hz: 2},
		}
	default:
		a.massKg, a.bouts = 1, choreMoves(d, e, total, b)
	}
	return a
}

// lookMoves is the front paws of a cat that does not come in.
func lookMoves(d dice, total float64) []bout {
	up := d.between(0.2, 0.55)
	return []bout{
		{last: 0.6, share: up, effort: effortShift, hz: 2},
		{last: total - 1.2, share: clamp(up*d.between(0.8, 1.2), 0.15, 0.6), effort: 0.3, hz: 1.5},
		{last: 0.6, effort: effortShift, hz: 2},
	}
}

// knockMoves is a push and a smaller one back.
func knockMoves(d dice, total float64) []bout {
	hit := d.between(0.4, 3)
	if d.chance(0.5) {
		hit = -hit
	}
	back := -hit * d.between(0.2, 0.6)
	return []bout{{last: 0.06, share: hit}, {last: 0.06, share: back}, {last: 0.1}, {last: max(total-0.22, 0.1)}}
}

// choreMoves is what hands do to a box. Loads are in kg on a body of 1 kg.
func choreMoves(d dice, e *happening, total float64, b *box) []bout {
	change := e.LeftG / 1000
	rest := func(part, share float64) bout {
		return bout{last: total * part, share: share, effort: effortHand, hz: 2}
	}
	switch e.Kind {
	case Scooped, ToppedUp:
		n := 3 + d.IntN(4)
		moves := make([]bout, 0, 2*n+1)
		for range n {
			moves = append(moves, rest(0.7/float64(n), d.between(0.05, 0.5)))
			moves = append(moves, bout{last: total * 0.2 / float64(n), put: change / float64(n)})
		}
		return append(moves, bout{last: total * 0.1})
	case Lid:
		return []bout{
			rest(0.05, -0.1), {last: 0.4, put: -b.lid}, {last: total*0.9 - 0.8},
			rest(0.05, 0.2), {last: 0.4, put: b.lid},
		}
	}
	// The whole box leaves the plate and comes back filled.
	return []bout{
		rest(0.05, 0.3), {last: 0.5, put: -e.before}, {last: total*0.9 - 1},
		{last: 0.5, put: e.before + change}, rest(0.05, 0.2), {last: 0.2},
	}
}
