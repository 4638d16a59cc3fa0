package simulator

import (
	"time"
)

// life lives a house day by day. Each day is a list of happenings in the order
// in which they start; none of a day starts before one of the day before.
type life struct {
	h      *House
	day    int
	d      dice // of the day's plan
	cats   []*animal
	boxes  []*box
	keeper *keeper
	todo   agenda
	done   []happening
	ends   time.Time
}

func newLife(h *House) *life {
	l := &life{h: h, keeper: newKeeper(h)}
	for _, p := range h.profiles {
		l.cats = append(l.cats, newAnimal(p, h.opt.Seed, h.start))
	}
	for i, s := range h.scales {
		l.boxes = append(l.boxes, newBox(s, h.devices[i], h.opt, h.start))
	}
	return l
}

// live lives one more day and returns what happened. The slice is overwritten
// by the next call.
func (l *life) live() []happening {
	begins := l.dayStart(l.day)
	l.ends = l.dayStart(l.day + 1)
	l.d = newDice(l.h.opt.Seed, "day", uint64(l.day))
	l.todo, l.done = l.todo[:0], l.done[:0]
	for _, a := range l.cats {
		a.wake(begins, l.ends.Sub(begins))
	}
	l.onsets(begins)
	l.cutPower(begins)
	l.planCats(begins)
	l.planPeople(begins)
	l.planBowls(begins)
	for len(l.todo) > 0 {
		l.happen(l.todo.pop())
	}
	l.day++
	return l.done
}

// dayStart is local midnight, so that habits follow the clock on the wall.
func (l *life) dayStart(n int) time.Time {
	y, m, d := l.h.start.Date()
	return time.Date(y, m, d+n, 0, 0, 0, 0, l.h.start.Location())
}

// plan puts something on today's list, unless it would start tomorrow.
func (l *life) plan(h happening) bool {
	if !h.Start.Before(l.ends) || h.Start.Before(l.h.start) {
		return false
	}
	h.Start = h.Start.Truncate(time.Millisecond)
	l.todo.add(h)
	return true
}

func (l *life) onsets(begins time.Time) {
	for _, p := range l.h.profiles {
		for _, c := range p.changes() {
			if !c.Start.Before(begins) && c.Start.Before(l.ends) {
				l.plan(happening{Event: c, box: -1, who: -1})
			}
		}
	}
}

func (l *life) cutPower(begins time.Time) {
	for i, b := range l.boxes {
		hit, from, long := l.d.chance(1.0/60), l.d.between(0, 23), l.d.lognormal(14, 0.9)
		if hit && l.h.opt.Faults.Has(Gap) && begins.After(b.off) {
			l.plan(happening{Event: Event{Kind: Silent, Start: begins.Add(hours(from)), Source: b.ID, Faults: Gap},
				box: i, who: -1, planned: hours(long)})
		}
	}
}

// happen settles one happening: who is in the way, how long it lasts, what it
// weighs and leaves. What it draws depends on nothing but its kind and how long
// after the start it begins, so that a fault that adds other happenings does not
// change this one, and a demo tells the same story on any day.
func (l *life) happen(h happening) {
	h.d = newDice(l.h.opt.Seed, string(h.Kind), uint64(h.Start.Sub(l.h.start).Microseconds()))
	h.serial = h.d.Uint64()
	switch h.Kind {
	case Visit, Look, Paw:
		l.catComes(h)
	case Meal, Drink:
		l.atBowl(h)
	case Scooped, ToppedUp, Moved, Lid, Leaned, Knocked:
		l.personComes(h)
	case Silent:
		h.End = h.Start.Add(h.planned).Truncate(time.Millisecond)
		l.boxes[h.box].off = h.End
		l.record(h)
	case Counted:
		l.count(h)
	case Weighed:
		l.weigh(h)
	default:
		l.record(h)
	}
}

func (l *life) record(h happening) {
	if h.End.IsZero() {
		h.End = h.Start
	}
	h.Start, h.End = h.Start.UTC(), h.End.UTC()
	l.done = append(l.done, h)
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
