package simulator

import "time"

// Chances of the faults that a visit can have, chosen to meet each often enough
// to matter and seldom enough to leave clean visits between.
var visitFaults = []struct {
	fault  Fault
	chance float64
}{
	{TwoStep, 0.35}, {Digging, 0.8}, {Turning, 0.6}, {JumpOut, 0.3}, {Restless, 0.25},
	{Dropout, 0.12}, {Stuck, 0.03}, {Spikes, 0.15}, {Outlier, 0.015},
}

// planCats puts on today's list when each cat goes, and when one only looks.
func (l *life) planCats(begins time.Time) {
	for i, a := range l.cats {
		for _, h := range a.visitHours() {
			l.plan(happening{Event: Event{Kind: Visit, Start: begins.Add(hours(h))}, who: i, box: l.favourite(i)})
		}
		l.planExtra(FrontPaws, 0.4, Look, i, begins, a.hour())
		l.planExtra(OutsidePaw, 0.2, Paw, i, begins, a.hour())
	}
	l.planExtra(Stranger, 0.15, Visit, len(l.cats), begins, l.d.between(0, 24))
}

// planExtra draws whether or not the fault is on, so that switching one on moves
// nothing else.
func (l *life) planExtra(f Fault, chance float64, k Kind, who int, begins time.Time, hour float64) {
	box, hit := l.favourite(who), l.d.chance(chance*l.h.opt.Often)
	if hit && l.h.opt.Faults.Has(f) {
		l.plan(happening{Event: Event{Kind: k, Start: begins.Add(hours(hour))}, who: who, box: box})
	}
}

// favourite picks a box: each cat has one it prefers.
func (l *life) favourite(who int) int {
	n := l.h.opt.Scales
	if n == 1 || l.d.chance(0.65) {
		return who % n
	}
	return (who + 1 + l.d.IntN(n-1)) % n
}

// catComes lets a cat in, sends it to another box where this one is taken, or
// makes it wait.
func (l *life) catComes(h happening) {
	if h.who < len(l.cats) && !h.forced && l.cats[h.who].busy.After(h.Start) {
		return // it is in a box already
	}
	if b := l.boxes[h.box]; !h.forced && b.free.After(h.Start) {
		if other, ok := l.freeBox(h.Start); ok {
			h.box = other
		} else {
			h.Start = b.free.Add(seconds(h.d.between(15, 60)))
			l.plan(h)
			return
		}
	}
	b := l.boxes[h.box]
	h.Source, h.Lost = b.ID, b.off.After(h.Start)
	h.Cat, h.MassKg, h.LevelKg = l.weightOf(h)
	if l.h.opt.Faults.Has(Saturated) && b.load()+h.MassKg > b.device.MaxKg && h.Kind == Visit {
		h.Faults |= Saturated
	}
	switch h.Kind {
	case Visit:
		l.visit(&h)
	case Look:
		h.Faults, h.End = FrontPaws, h.Start.Add(seconds(h.d.between(2, 8)))
	case Paw:
		h.Faults, h.End = OutsidePaw, h.Start.Add(seconds(h.d.between(1, 4)))
	}
	h.End = h.End.Truncate(time.Millisecond)
	if h.End.After(b.free) {
		b.free = h.End
	}
	if h.who < len(l.cats) {
		l.cats[h.who].busy = h.End
	}
	l.record(h)
}

func (l *life) freeBox(at time.Time) (int, bool) {
	for i, b := range l.boxes[:l.h.opt.Scales] {
		if !b.free.After(at) {
			return i, true
		}
	}
	return 0, false
}

func (l *life) weightOf(h happening) (cat string, mass, level float64) {
	if h.who == len(l.cats) {
		mass = round(l.h.guestKg*h.d.normal(1, 0.01), 1e-5)
		return Guest, mass, round(l.h.guestKg, 1e-5)
	}
	a := l.cats[h.who]
	return a.Cat.ID, round(a.mass(h.Start), 1e-5), round(a.level(h.Start), 1e-5)
}

func (l *life) visit(h *happening) {
	if h.who < len(l.cats) {
		h.UrineG, h.FaecesG = l.cats[h.who].leave(h.Start, h.d)
	} else if h.d.chance(0.6) {
		h.UrineG = h.d.between(14, 40)
	}
	for _, f := range visitFaults {
		// The draw is made whether or not the fault is on, so that switching one on changes nothing else.
		if hit := h.d.chance(f.chance * l.h.opt.Often); hit && l.h.opt.Faults.Has(f.fault) {
			h.Faults |= f.fault
		}
	}
	if thrown := clamp(h.d.lognormal(0.8, 0.9), 0, 12); h.Faults.Has(Digging) {
		h.ThrownG = thrown
	}
	h.UrineG, h.FaecesG, h.ThrownG = round(h.UrineG, 0.01), round(h.FaecesG, 0.01), round(h.ThrownG, 0.01)
	h.LeftG = round(h.UrineG+h.FaecesG-h.ThrownG, 0.01)
	last := stay(h.d, h.UrineG+h.FaecesG > 0)
	if h.planned > 0 {
		last = h.planned
	}
	h.End = h.Start.Add(last)
	b := l.boxes[h.box]
	b.waste += (h.UrineG + h.FaecesG) / 1000
	b.content -= h.ThrownG / 1000
	if !h.forced {
		l.follow(h)
	}
}

// follow lets a second cat come as the first leaves, or while it is still there.
func (l *life) follow(first *happening) {
	d := first.d
	inTurn, atOnce := d.chance(0.06*l.h.opt.Often), d.chance(0.03*l.h.opt.Often)
	who, at, last := d.IntN(len(l.cats)), first.End, stay(d, true)
	early := d.between(0.3, 0.7)
	fault := InTurn
	if atOnce {
		fault, at = AtOnce, first.Start.Add(time.Duration(early*float64(first.End.Sub(first.Start))))
	} else {
		at = at.Add(seconds(d.between(-0.3, 1.5)))
	}
	if !(inTurn || atOnce) || !l.h.opt.Faults.Has(fault) || who == first.who || l.cats[who].busy.After(at) {
		return
	}
	h := happening{Event: Event{Kind: Visit, Start: at, Faults: fault}, who: who, box: first.box, forced: true, planned: last}
	if atOnce {
		h.With = first.nameIn(l)
	}
	if !l.plan(h) {
		return
	}
	first.Faults |= fault
	if atOnce {
		first.With = l.cats[who].Cat.ID
	}
	l.cats[who].busy = at.Add(last)
}

func (h *happening) nameIn(l *life) string {
	if h.who < len(l.cats) {
		return l.cats[h.who].Cat.ID
	}
	return Guest
}
