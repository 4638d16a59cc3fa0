package visit

import (
	"math"

	"weighbeam/home"
)

const (
	leastMeal = 1.0   // g
	mostMeal  = 250.0 // g at one sitting; more was taken by a person
	backBy    = 50.0  // g by which a bowl comes back that was off
)

// nameBowl names an episode of a feeder or water scale by what it changed. Where
// the cat stood on the same scale its weighing comes first, with the same times.
func (t *Tracker) nameBowl(e *episode) {
	o := outcome{from: t.s.Start, to: e.end, left: e.net, leftSD: e.netSD, hasLeft: e.after, quality: 1}
	least := math.Max(leastMeal, 3*e.netSD)
	lift := t.under(e, 0, len(e.of), 0, math.Max(t.how.Lift, backBy-e.net)) >= 1.5
	switch {
	case !e.after:
		o.event, o.quality, o.why = home.Knocked, 0, []string{"dropout"}
	case math.Abs(e.net) > 3000:
		o.event = home.Moved
	case e.net > least:
		o.event = home.ToppedUp
	case e.net < -least && (lift || e.net < -mostMeal):
		o.event = home.Scooped
	case e.net < -least:
		o.event = home.Meal
		if t.kind == home.Water {
			o.event = home.Drink
		}
	default:
		o.event = home.Knocked
	}
	if len(e.of) == 0 { // between two heartbeats, or in a dropout
		if o.event == home.Knocked {
			return
		}
		o.quality, o.why = 0.5, []string{"unseen"}
	} else if !lift {
		t.standing(e)
	}
	e.add(o)
}

// standing adds the weighing of a cat that stood on the scale of its bowl. What
// it ate it carries, so the load of both stays the same.
func (t *Tracker) standing(e *episode) {
	for _, st := range t.stays(e) {
		n := len(e.outcome)
		st.from, st.to = false, false
		t.nameCats(e, st)
		kept := e.outcome[:n]
		for _, o := range e.outcome[n:] {
			if o.event == home.CatVisit || o.event == home.Several {
				o.from, o.to = t.s.Start, e.end
				kept = append(kept, o)
			}
		}
		e.outcome = kept
	}
}
