package visit

import (
	"math"

	"weighbeam/home"
)

// nameBowl names an episode of a feeder or water scale by what it changed.
func (t *Tracker) nameBowl(e *episode) {
	eaten := home.Meal
	if t.kind == home.Water {
		eaten = home.Drink
	}
	o := outcome{from: t.s.Start, to: e.end, left: e.net, leftSD: e.netSD, hasLeft: e.after, quality: 1}
	least := math.Max(1, 3*e.netSD)
	switch {
	case !e.after:
		o.event = home.Knocked
	case math.Abs(e.net) > 2000:
		o.event = home.Moved
	case e.net > least:
		o.event = home.ToppedUp
	case e.net < -300:
		o.event = home.Scooped
	case e.net < -least:
		o.event = eaten
	default:
		o.event = home.Knocked
	}
	e.add(o)
}
