package detect

import (
	"math"
	"slices"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// eaten is what a cat takes from the bowls that are weighed, and what a person says
// it was fed.
func eaten(o Observation) (float64, bool) {
	switch {
	case o.Count != nil && o.Count.Quantity == home.Intake:
		return o.Count.Value, true
	case o.Visit != nil && o.Visit.Event == home.Meal && o.Visit.HasLeft:
		return -o.Visit.LeftG, true
	}
	return 0, false
}

// notEating finds a cat that has taken nothing for 24 hours, the careful one of
// the lines in use (practice texts and emergency lists; Taylor et al. 2022 ask to
// act the same day), or for twice its own longest usual pause where that is
// longer. Only a cat that eats from weighed bowls nearly every day is judged.
type notEating struct {
	care   *cares
	daily  daily
	pauses []time.Duration // the last of them
	open   bool
}

const (
	fastLine   = 24 * time.Hour
	feedsKept  = 100
	feedsDays  = 14 // of which all but one must have a meal
	lessOfDays = 2
)

func newNotEating(care *cares) *notEating { return &notEating{care: care} }

func (n *notEating) kind() home.Sign { return home.NotEating }

func (n *notEating) step(o Observation) verdict {
	g, ok := eaten(o)
	if !ok || !(g > 0) {
		return verdict{}
	}
	at := o.Time()
	if last := n.daily.last; !last.IsZero() && at.After(last) {
		n.pauses = append(n.pauses, min(at.Sub(last), 2*fastLine))
		n.pauses = n.pauses[max(0, len(n.pauses)-feedsKept):]
	}
	n.daily.add(at, g)
	if n.open {
		n.open = false
		return clearAs(eatenAgain)
	}
	return verdict{}
}

func (n *notEating) wake(now time.Time) time.Time {
	if n.open || n.daily.last.IsZero() {
		return time.Time{}
	}
	return hourly(n.daily.last.Add(fastLine), now)
}

func (n *notEating) tick(now time.Time) verdict {
	if n.open || n.daily.last.IsZero() || now.Sub(n.daily.last) < fastLine {
		return verdict{}
	}
	limit := n.limit()
	if gone := now.Sub(n.daily.last); limit > 0 && gone >= limit && !n.care.on(home.Away, now, limit) {
		n.open = true
		at := n.daily.last
		return foundAs(home.Finding{Urgency: home.Today, Onset: at, OnsetLo: at, OnsetHi: at, Data: len(n.pauses),
			Warnings: []string{warnBowls}, Text: notEatingText(gone)})
	}
	return verdict{}
}

// limit is how long nothing may be taken, 0 where the cat does not live on the
// bowls that are weighed.
func (n *notEating) limit() time.Duration {
	days, _ := n.daily.newest(feedsDays, 0, 0)
	if len(days) < feedsDays || known(days) < feedsDays-1 || len(n.pauses) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(n.pauses))
	return max(fastLine, 2*sorted[len(sorted)*98/100])
}

func (n *notEating) outlook(time.Time, *home.Outlook) {}

// eatingLess finds a cat that eats less: under half of its usual on two days in a
// row (the usual teaching, from memory), which asks for a call, or a fifth less for
// a week, which asks for a visit.
type eatingLess struct {
	amount
}

func newEatingLess(care *cares) *eatingLess {
	return &eatingLess{amount: amount{care: care, sign: home.EatingLess, of: eaten, least: 0.8,
		words: amountWords{"g", eatingText, eatingUsual, warnBowls}}}
}

func (e *eatingLess) step(o Observation) verdict {
	x, ok := eaten(o)
	if !ok || math.IsNaN(x) {
		return verdict{}
	}
	v := e.tick(o.Time())
	e.daily.add(o.Time(), x)
	return v
}

func (e *eatingLess) tick(now time.Time) verdict {
	days := len(e.daily.values)
	last := e.daily.day
	v := e.amount.tick(now)
	if e.daily.day == last && len(e.daily.values) == days || v.stand == cleared {
		return v
	}
	newer, older := e.daily.newest(lessOfDays, 0, 28)
	if known(newer) < lessOfDays || known(older) < 14 {
		return v
	}
	usual := stat.Median(present(older))
	if e.open != nil && e.open.Urgency == home.Today || slices.Max(newer) >= usual/2 {
		return v
	}
	at := now.Add(-lessOfDays * oneDay)
	e.turn, e.calm = usual*3/4, 0
	mean := (newer[0] + newer[1]) / 2
	f := home.Finding{Urgency: home.Today, Onset: at, OnsetLo: at, OnsetHi: at, ChangePct: 100 * (mean/usual - 1),
		Before: usual, After: mean, LevelUnit: "g/day", Data: lessOfDays, Warnings: []string{warnBowls}}
	f.Text = eatingText(f)
	e.open = &f
	return foundAs(f)
}
