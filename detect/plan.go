package detect

import (
	"math"
	"time"

	"weighbeam/home"
)

// planTooFast finds a planned loss that is faster than it may be: more than 2 %
// of body weight a week, unless the plan says otherwise. A loss inside the plan
// is no finding of any kind; what falls through the target is an ordinary fall.
type planTooFast struct {
	w    *weights
	plan *home.Plan // that holds, or held when it was found
	seen int
	open bool
}

const (
	planDays  = 21  // over which the pace is taken
	underGoal = 3.0 // percent under the target that a plan still covers
	planEased = 0.8 // of the greatest pace, below which it is closed
)

func newPlanTooFast(w *weights) *planTooFast { return &planTooFast{w: w} }

func (p *planTooFast) kind() home.Sign { return home.PlanTooFast }

func (p *planTooFast) step(o Observation) verdict {
	if o.Weighing == nil {
		return verdict{}
	}
	return p.judge()
}

func (p *planTooFast) tick(time.Time) verdict { return p.judge() }

// wake: only a day that the weights take in changes anything.
func (p *planTooFast) wake(time.Time) time.Time { return time.Time{} }

func (p *planTooFast) judge() verdict {
	w := p.w
	if w.days() == p.seen {
		return verdict{}
	}
	p.seen = w.days()
	if p.plan = w.care.plan(dateOf(w.today())); p.plan == nil {
		return p.clear(planOver)
	}
	c, sd, ok := w.change(planDays)
	if !ok || w.today()-planDays < float64(dayOf(p.plan.From)) {
		return verdict{}
	}
	const weeks = planDays / 7
	pace := percent(c / weeks)
	switch {
	case pace > -planEased*p.plan.Most():
		return p.clear(planSlower)
	case !p.open && percent((c+z90*sd)/weeks) > -p.plan.Most():
		return verdict{}
	}
	p.open = true
	return foundAs(p.finding(pace, c, sd, weeks))
}

func (p *planTooFast) clear(reason string) verdict {
	if !p.open {
		return verdict{}
	}
	p.open = false
	return clearAs(reason)
}

func (p *planTooFast) finding(pace, c, sd, weeks float64) home.Finding {
	w := p.w
	level, _ := w.level()
	onset := dateOf(w.today() - planDays)
	f := home.Finding{
		Urgency: home.Today, Onset: onset, OnsetLo: p.plan.From, OnsetHi: onset, ChangePct: percent(c),
		Rate: pace, RateLo: percent((c - z90*sd) / weeks), RateHi: percent((c + z90*sd) / weeks), RateUnit: "%/week",
		Before: w.kg(level - c), After: w.kg(level), LevelUnit: "kg",
		Confidence: normalCDF(-(c + weeks*p.plan.Most()) / sd), Data: w.since(onset),
	}
	f.Warnings = w.warnings(f)
	f.Text = planText(f, p.plan.Most())
	return f
}

func (p *planTooFast) outlook(time.Time, *home.Outlook) {}

// covered reports whether a plan explains that the cat loses: it is on, and the
// cat is not far under the target.
func (w *weights) covered() bool {
	plan := w.care.plan(dateOf(w.today()))
	if plan == nil {
		return false
	}
	level, _ := w.level()
	return level > w.levelOf(plan.TargetKg)-underGoal
}

// afterBirth is for how long a loss at the end of a pregnancy is expected.
const afterBirth = 7 * oneDay

// expecting reports whether a pregnancy explains that the weight rises, or falls
// at its end.
func (w *weights) expecting() bool { return w.carries(w.today()) }

// carries reports the same of a day.
func (w *weights) carries(day float64) bool {
	return w.care.on(home.Pregnancy, dateOf(day), afterBirth)
}

// followed is how long after a pregnancy the level has surely come down, too.
const followed = 21 * oneDay

// excused reports whether a plan or a pregnancy explains what the cat weighed at t,
// so that it need not weigh as much ever again.
func (w *weights) excused(t time.Time) bool {
	return w.care.plan(t) != nil || w.care.on(home.Pregnancy, t, followed)
}

// levelOf turns kg into a level.
func (w *weights) levelOf(kg float64) float64 { return 100*math.Log(kg) - w.zero }
