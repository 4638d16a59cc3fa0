package detect

import (
	"time"

	"weighbeam/home"
)

// planOff finds a planned loss that does not come: four weeks at less than a
// quarter of a percent a week, surely, and not yet at the target. The band that is
// agreed is 0.5 to 2 % a week (AAHA 2014); cats on a diet reach 0.8 (Flanagan et
// al. 2018).
type planOff struct {
	w    *weights
	seen int
	open bool
}

const (
	planWeeks    = 4.0
	leastPlanned = 0.25 // percent a week
	nearTarget   = 3.0  // percent over the target from which it is asked after
	atTarget     = 1.5  // percent over the target that count as there
)

func newPlanOff(w *weights) *planOff { return &planOff{w: w} }

func (p *planOff) kind() home.Sign { return home.PlanOff }

func (p *planOff) step(o Observation) verdict {
	if o.Weighing == nil {
		return verdict{}
	}
	return p.judge()
}

func (p *planOff) tick(time.Time) verdict { return p.judge() }

// wake: only a day that the weights take in changes anything.
func (p *planOff) wake(time.Time) time.Time { return time.Time{} }

func (p *planOff) judge() verdict {
	w := p.w
	if w.days() == p.seen {
		return verdict{}
	}
	p.seen = w.days()
	plan := w.care.plan(dateOf(w.today()))
	if plan == nil {
		return p.clear(planOver)
	}
	const days = 7 * planWeeks
	level, _ := w.level()
	c, sd, ok := w.change(days)
	if !ok || w.today()-days < float64(dayOf(plan.From)) {
		return verdict{}
	}
	goal := w.levelOf(plan.TargetKg)
	switch {
	case level <= goal+atTarget, goal > level:
		return p.clear(planReached)
	case percent(c/planWeeks) <= -2*leastPlanned:
		return p.clear(planUnderWay)
	case !p.open && level <= goal+nearTarget:
		return verdict{}
	case !p.open && percent((c-z90*sd)/planWeeks) < -leastPlanned:
		return verdict{}
	}
	p.open = true
	f := home.Finding{
		Urgency: home.Mention, Onset: plan.From, OnsetLo: plan.From, OnsetHi: plan.From, ChangePct: percent(c),
		Rate: percent(c / planWeeks), RateLo: percent((c - z90*sd) / planWeeks), RateHi: percent((c + z90*sd) / planWeeks), RateUnit: "%/week",
		Before: w.kg(level - c), After: w.kg(level), LevelUnit: "kg",
		Confidence: normalCDF((c + planWeeks*leastPlanned) / sd), Data: w.since(dateOf(w.today() - days)), Warnings: []string{warnPlanOff},
	}
	f.Text = planOffText(f, plan.TargetKg)
	return foundAs(f)
}

func (p *planOff) clear(reason string) verdict {
	if !p.open {
		return verdict{}
	}
	p.open = false
	return clearAs(reason)
}

func (p *planOff) outlook(time.Time, *home.Outlook) {}
