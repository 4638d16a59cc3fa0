package simulator

import (
	"math"
	"time"

	"weighbeam/home"
)

// keeper is the person of the house: when each cat is next counted and weighed.
type keeper struct {
	counts, weighs, clinics []int // day numbers, one a cat
	biasKg                  float64
}

func newKeeper(h *House) *keeper {
	d := newDice(h.opt.Seed, "keeper", 0)
	k := &keeper{biasKg: d.between(-0.08, 0.08)}
	for _, p := range h.profiles {
		k.counts = append(k.counts, d.IntN(3))
		k.weighs = append(k.weighs, 3+d.IntN(25))
		first := math.MaxInt
		if p.ClinicEvery > 0 {
			first = 4 + d.IntN(20)
		}
		k.clinics = append(k.clinics, first)
	}
	return k
}

// planPeople puts on today's list what people do.
func (l *life) planPeople(begins time.Time) {
	for i := range l.cats {
		l.planChecks(begins, i)
	}
	for i, b := range l.boxes[:l.h.opt.Scales] {
		l.planChores(begins, i, b)
	}
}

func (l *life) planChecks(begins time.Time, i int) {
	k, a := l.keeper, l.cats[i]
	evening := begins.Add(hours(clamp(l.d.normal(21.2, 0.9), 16, 23.8))).Truncate(time.Second)
	if l.day >= k.counts[i] {
		k.counts[i] = l.day + 2 + l.d.IntN(10)/7 // 2 or 3 days: three counts a week
		l.plan(happening{Event: Event{Kind: Counted, Start: evening, Source: home.Hand}, who: i, box: -1})
	}
	if l.day >= k.weighs[i] {
		k.weighs[i] = l.day + 22 + l.d.IntN(17)
		l.plan(happening{Event: Event{Kind: Weighed, Start: evening.Add(-hours(1.5)).Truncate(time.Minute), Source: home.Hand}, who: i, box: -1})
	}
	if l.day >= k.clinics[i] {
		k.clinics[i] = l.day + a.ClinicEvery - 7 + l.d.IntN(15)
		morning := begins.Add(hours(l.d.between(9, 12))).Truncate(time.Minute)
		l.plan(happening{Event: Event{Kind: Weighed, Start: morning, Source: home.Clinic}, who: i, box: -1})
		l.plan(happening{Event: Event{Kind: Counted, Start: morning.Add(5 * time.Minute), Source: home.Clinic}, who: i, box: -1})
	}
}

func (l *life) planChores(begins time.Time, i int, b *box) {
	f, d, often := l.h.opt.Faults, l.d, l.h.opt.Often
	chore := func(fault Fault, k Kind, chance, hour float64) {
		hit := d.chance(chance)
		if hit && f.Has(fault) {
			l.plan(happening{Event: Event{Kind: k, Start: begins.Add(hours(hour)), Faults: fault}, who: -1, box: i})
		}
	}
	days := func(since time.Time) float64 { return begins.Sub(since).Hours() / 24 }
	chore(Scoop, Scooped, 0.92, clamp(d.normal(18.5, 1), 12, 22))
	chore(TopUp, ToppedUp, clamp((days(b.topped)-4)/6, 0, 1), d.between(18, 20))
	chore(LitterChange, Moved, clamp((days(b.filled)-18)/8, 0, 1), d.between(10, 16))
	chore(LidLifted, Lid, 0.2*often, d.between(8, 22))
	chore(Lean, Leaned, 0.25*often, d.between(8, 22))
	chore(Knock, Knocked, 0.5*often, d.between(6, 23))
	chore(Knock, Knocked, 0.2*often, d.between(6, 23))
}

// personComes waits for the cat to leave, then does it and books the change.
func (l *life) personComes(h happening) {
	b := l.boxes[h.box]
	if b.free.After(h.Start) {
		h.Start = b.free.Add(seconds(h.d.between(20, 90)))
		l.plan(h)
		return
	}
	h.Source, h.Lost = b.ID, b.off.After(h.Start)
	b.dry(h.Start)
	h.before = b.load()
	last := b.tend(&h)
	h.End = h.Start.Add(seconds(last)).Truncate(time.Millisecond)
	h.LeftG = round((b.load()-h.before)*1000, 0.01)
	b.content += h.LeftG/1000 - (b.load() - h.before) // what is booked is what is told, to the last digit
	b.free = h.End.Add(8 * time.Second)
	l.record(h)
}

// tend does a chore on the ledger and returns how many seconds it takes.
func (b *box) tend(h *happening) float64 {
	d := h.d
	switch {
	case h.Kind == Scooped:
		b.waste -= b.waste * d.between(0.85, 1)
		b.content -= d.between(0.005, 0.04) // clings to the clumps
		return d.between(15, 60)
	case h.Kind == ToppedUp && b.full > 0:
		b.content = b.full * d.between(0.9, 1.1)
		return d.between(4, 10)
	case h.Kind == Moved && b.full > 0:
		b.content = b.full * d.between(0.9, 1.1)
		return d.between(25, 90)
	case h.Kind == ToppedUp:
		b.content, b.topped = b.content+d.between(0.3, 0.8), h.Start
		return d.between(6, 20)
	case h.Kind == Moved:
		b.content, b.waste, b.filled, b.topped = d.between(3.5, 5), 0, h.Start, h.Start
		return d.between(90, 400)
	case h.Kind == Lid:
		return d.between(20, 90)
	case h.Kind == Leaned:
		h.MassKg = round(d.between(2, 6), 1e-5)
		return d.between(4, 25)
	}
	return d.between(0.4, 2) // a knock
}
