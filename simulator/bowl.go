package simulator

import (
	"time"

	"weighbeam/home"
)

// What cats take from bowls. Meals: 16 a day without a day-night cycle (Kane,
// Rogers and Morris 1981). Energy: 55.1 kcal/kg a day (Bermingham et al. 2010),
// of dry food with 3.8 kcal/g (common on labels, no published source). Water: 30
// mL/kg a day besides the food, inside the 20 to 90 of clinic factsheets. Pace:
// a cat laps about half a millilitre a second and eats dry food at about 4 g a
// minute (from memory).
const (
	mealsDay      = 16.0
	foodGKgDay    = 55.1 / 3.8
	drinksDay     = 9.0
	waterGKgDay   = 30.0
	eatingGSecond = 0.07
	lappingSecond = 0.5
)

// planBowls puts on today's list who eats and drinks when, and when the bowls
// are filled. It has dice of its own, so that bowls change nothing else.
func (l *life) planBowls(begins time.Time) {
	d := newDice(l.h.opt.Seed, "bowls", uint64(l.day))
	bowls := l.boxes[l.h.opt.Scales:]
	for i, b := range bowls {
		at := l.h.opt.Scales + i
		kind, times, others := Meal, mealsDay, l.h.opt.Feeders
		if b.Kind == home.Water {
			kind, times, others = Drink, drinksDay, l.h.opt.Waters
		}
		for who := range l.cats {
			for range d.poisson(times / float64(others)) {
				l.plan(happening{Event: Event{Kind: kind, Start: begins.Add(hours(d.between(0, 24)))}, who: who, box: at})
			}
		}
		for _, chore := range bowlChores(b.Kind) {
			start := begins.Add(hours(d.normal(chore.hour, 0.4)))
			l.plan(happening{Event: Event{Kind: chore.kind, Start: start}, who: -1, box: at})
		}
	}
}

type bowlChore struct {
	kind Kind
	hour float64
}

// bowlChores: food is poured on top three times a day; water is emptied and
// filled afresh each morning.
func bowlChores(k home.Kind) []bowlChore {
	if k == home.Water {
		return []bowlChore{{Moved, 8}}
	}
	return []bowlChore{{ToppedUp, 7.5}, {ToppedUp, 13}, {ToppedUp, 19}}
}

// atBowl lets a cat eat or drink what it wants, or what is left.
func (l *life) atBowl(h happening) {
	a, b := l.cats[h.who], l.boxes[h.box]
	switch {
	case a.busy.After(h.Start):
		return
	case b.free.After(h.Start):
		h.Start = b.free.Add(seconds(h.d.between(5, 30)))
		l.plan(h)
		return
	}
	b.dry(h.Start)
	want, pace := foodGKgDay/mealsDay, eatingGSecond
	if h.Kind == Drink {
		want, pace = waterGKgDay/drinksDay, lappingSecond
	}
	want *= a.level(h.Start) * h.d.lognormal(0.9, 0.45)
	took := round(min(want, b.content*1000), 0.01)
	if took < 0.5 {
		return // an empty bowl
	}
	b.content -= took / 1000
	h.Source, h.Lost, h.Cat, h.LeftG = b.ID, b.off.After(h.Start), a.Cat.ID, -took
	h.End = h.Start.Add(seconds(3 + took/pace*h.d.between(0.7, 1.4))).Truncate(time.Millisecond)
	a.busy, b.free = h.End, h.End.Add(6*time.Second)
	l.record(h)
}

// bowlMoves is a muzzle that presses now and then while the bowl gets lighter. A
// lapping tongue presses less, and about four times a second.
func bowlMoves(d dice, e Event, total float64) []bout {
	press, hz := 0.15, 2.5
	if e.Kind == Drink {
		press, hz = 0.03, 4
	}
	n := 3 + d.IntN(5)
	moves := []bout{{last: 0.5, share: press * d.between(0.1, 1), effort: 2, hz: hz}}
	for range n {
		moves = append(moves, bout{last: (total - 1) / float64(n), share: press * d.between(0.1, 1), effort: 2, hz: hz, put: e.LeftG / 1000 / float64(n)})
	}
	return append(moves, bout{last: 0.5})
}
