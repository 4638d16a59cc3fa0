package detect

import (
	"time"

	"weighbeam/home"
)

// cares is what was done with or for the cat up to now, as far as its figures must
// be read with it.
type cares struct{ all []home.Care }

func (c *cares) take(o Observation) {
	if o.Care != nil {
		c.all = append(c.all, *o.Care)
	}
}

// plan is the weight goal that holds at t, nil for none.
func (c *cares) plan(t time.Time) *home.Plan { return home.PlanOn(c.all, t) }

// on reports whether something of a kind that lasts holds at t, or held until
// less than after before.
func (c *cares) on(kind home.CareKind, t time.Time, after time.Duration) bool {
	for i := range c.all {
		if e := &c.all[i]; e.Kind == kind && (e.On(t) || e.On(t.Add(-after))) {
			return true
		}
	}
	return false
}

// last is when something of a kind began last, at or before t; zero for never.
func (c *cares) last(kind home.CareKind, t time.Time) time.Time {
	var last time.Time
	for i := range c.all {
		if e := &c.all[i]; e.Kind == kind && !e.From.After(t) && e.From.After(last) {
			last = e.From
		}
	}
	return last
}

// worn is what a scale shows of the cat at t that is no body mass, or is missing
// of it since, kg: a collar, a shorn coat.
func (c *cares) worn(t time.Time) float64 {
	kg := 0.0
	for i := range c.all {
		if e := &c.all[i]; e.Kind == home.Step && e.On(t) {
			kg += e.StepKg
		}
	}
	return kg
}
