package detect

import (
	"time"

	"weighbeam/home"
)

// overdue finds that people who look at the cat by hand have stopped to: no home
// check and no count for twice as long as its stage of life asks for (home.Rhythm).
// Who never made a habit of it is not reminded of one; nor is anybody while the cat
// is away. It never presses: a check that is late is no emergency.
type overdue struct {
	born time.Time
	care *cares
	days int       // on which a person looked
	last time.Time // the newest of them
	open bool
}

// overdueHabit is on how many days a person must have looked for it to be a habit,
// overdueAfter how many times the interval may pass. Both are choices of this program.
const (
	overdueHabit = 3
	overdueAfter = 2
)

func newOverdue(cat home.Cat, care *cares) *overdue { return &overdue{born: cat.Born, care: care} }

func (d *overdue) kind() home.Sign { return home.CheckOverdue }

func (d *overdue) step(o Observation) verdict {
	if o.Check == nil && (o.Count == nil || o.Count.Source != home.Hand) {
		return verdict{}
	}
	if at := o.Time(); at.After(d.last) {
		if at.Sub(d.last) >= oneDay/2 { // the parts of one look are one
			d.days++
		}
		d.last = at
	}
	if !d.open {
		return verdict{}
	}
	d.open = false
	return clearAs(overdueOver)
}

// wake: the stage of life, and so the limit, may change at a midnight.
func (d *overdue) wake(now time.Time) time.Time {
	if d.open || d.days < overdueHabit {
		return time.Time{}
	}
	due, next := d.last.Add(d.limit(now)), midnight(dayOf(now)+1)
	if due.Before(next) {
		return hourly(due, now)
	}
	return next
}

// limit is for how long no check may be made at a time.
func (d *overdue) limit(now time.Time) time.Duration {
	return overdueAfter * time.Duration(home.StageOf(d.born, now).Rhythm().Check) * oneDay
}

func (d *overdue) tick(now time.Time) verdict {
	if d.open || d.days < overdueHabit {
		return verdict{}
	}
	limit := d.limit(now)
	if now.Sub(d.last) < limit || d.care.on(home.Away, now, limit) {
		return verdict{}
	}
	d.open = true
	return foundAs(home.Finding{Urgency: home.Mention, Onset: d.last, OnsetLo: d.last, OnsetHi: d.last,
		Data: d.days, Text: overdueText(now.Sub(d.last), limit/overdueAfter)})
}

func (d *overdue) outlook(time.Time, *home.Outlook) {}
