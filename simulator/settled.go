package simulator

import (
	"iter"
	"slices"
	"time"

	"weighbeam/home"
)

// History is [House.Settled] as a slice: what devices and people would have
// sent up to the end of the history.
func (h *House) History() []home.Reading { return slices.Collect(h.Settled()) }

// Settled is the history in time order with one settled weight for each visit,
// sent by the box as the cat leaves and without a cat, because a box does not
// know who was in it; what was taken from bowls; and what people counted and
// weighed. A box whose own
// arithmetic was fooled sends a weight that is grossly wrong (the fault Outlier).
func (h *House) Settled() iter.Seq[home.Reading] {
	return func(yield func(home.Reading) bool) {
		var wait outbox
		for day := range h.days() {
			for _, e := range day {
				for _, r := range wait.until(e.Start) {
					if !r.Time.Before(h.end) || !yield(r) {
						return
					}
				}
				if r, ok := h.settle(e); ok {
					wait.add(r)
				}
			}
		}
	}
}

// settle is the reading that a happening leaves behind, if it does.
func (h *House) settle(e happening) (home.Reading, bool) {
	switch {
	case e.hand != nil:
		return *e.hand, true
	case (e.Kind == Meal || e.Kind == Drink) && !e.Lost:
		return h.taken(e), true
	case e.Kind != Visit || e.Lost || e.With != "" && e.forced:
		return home.Reading{}, false
	}
	d := newDice(h.opt.Seed, "settled", e.serial)
	sd := 0.008
	if e.Faults.Has(Restless) {
		sd = 0.025
	}
	kg := e.MassKg + d.normal(0, sd)
	switch {
	case e.Faults.Has(Outlier) && d.chance(0.5):
		kg *= d.between(0.45, 0.93) // a part of the cat
	case e.Faults.Has(Outlier), e.With != "":
		kg += d.between(0.3, 3) // the cat and something else
	}
	return home.Reading{
		Source: e.Source, Quantity: home.Weight, Time: e.End, Value: round(kg, 0.005),
		Arrived: e.End.Add(time.Duration(d.between(200, 900)) * time.Millisecond), Clock: home.ByDevice,
	}, true
}

// taken is what a bowl with arithmetic of its own tells of a meal or a drink.
func (h *House) taken(e happening) home.Reading {
	d := newDice(h.opt.Seed, "taken", e.serial)
	q := home.Intake
	if e.Kind == Drink {
		q = home.Drunk // a gram of water is a millilitre
	}
	return home.Reading{
		Source: e.Source, Quantity: q, Time: e.End, Value: round(max(0, d.normal(-e.LeftG, 0.3)), 0.1),
		Arrived: e.End.Add(time.Duration(d.between(200, 900)) * time.Millisecond), Clock: home.ByDevice,
	}
}

// outbox holds readings until nothing earlier can come any more.
type outbox struct{ held []home.Reading }

func (o *outbox) add(r home.Reading) {
	i := len(o.held)
	for i > 0 && o.held[i-1].Time.After(r.Time) {
		i--
	}
	o.held = slices.Insert(o.held, i, r)
}

// until removes and returns, in time order, what is dated before t.
func (o *outbox) until(t time.Time) []home.Reading {
	n := 0
	for n < len(o.held) && o.held[n].Time.Before(t) {
		n++
	}
	out := slices.Clone(o.held[:n])
	o.held = slices.Delete(o.held, 0, n)
	return out
}
