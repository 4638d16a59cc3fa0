package visit

import (
	"math"

	"weighbeam/home"
)

// nameStay names one stay of an episode, alone in it or not: a person's doing, a
// cat's, or several cats'.
func (t *Tracker) nameStay(e *episode, st stay, alone bool) {
	fr := e.of[st.i:st.j]
	if ev, why := t.person(e, st); ev != "" {
		o := outcome{
			event: ev, from: fr[0].T0, to: t.until(e, st), quality: 1, why: why,
			left: st.next - st.base, leftSD: math.Hypot(st.nextSD, st.baseSD), hasLeft: st.known(),
		}
		if alone { // the way to the new level is part of it
			o.from, o.to = t.s.Start, e.end
		}
		e.add(o)
		return
	}
	t.nameCats(e, st)
}

// nameCats names the cats of a stay.
func (t *Tracker) nameCats(e *episode, st stay) {
	parts := t.cast(e.of[st.i:st.j], t.s.Base.Level+st.base)
	for k, p := range parts {
		sub, earlier := st, 0.0
		sub.i, sub.j = st.i+p.i, st.i+p.j
		if len(parts) > 1 { // what each left is not known, only the sum
			earlier = (st.next - st.base) * float64(k) / float64(len(parts))
			sub.baseSD = math.Hypot(sub.baseSD, 0.25*math.Abs(st.next-st.base)+6)
			sub.from, sub.to = false, false
		}
		if p.shared {
			t.nameShared(e, sub, p, p.level.G-earlier)
			continue
		}
		t.namePart(e, sub, p, p.level.G-earlier)
	}
}

// namePart names a part of a stay in which mass g stood on the scale.
func (t *Tracker) namePart(e *episode, st stay, p part, mass float64) {
	l := p.level
	o := outcome{from: e.of[st.i].T0, to: t.until(e, st), quality: 1}
	occupied := 0.0
	for i := st.i; i < st.j; i++ {
		occupied += e.of[i].Hold
	}
	long, samples := t.span(e, st)
	switch {
	case p.several:
		o.event = home.Several
		if l.Core > 8 { // a new cat so heavy looks the same the first times
			t.s.Usual.add(mass)
		}
	case t.work.stuck > 0.6*occupied:
		o.event, o.quality, o.why = home.Look, 0, []string{"saturated"}
	case l.Core < leastCore || mass < t.how.Least || samples < leastSamples:
		o.event = home.Knocked
		if long > 2 && mass > t.how.Least/2 {
			o.event = home.Look
		}
	case t.look(mass, long, l, st):
		o.event = home.Look
	case t.hands(st, p, mass, occupied):
		o.event, o.why = home.Knocked, []string{"hands"}
		if st.known() && st.next-st.base < -5 {
			o.event = home.Scooped
		}
	default:
		o.mass = mass
		t.weigh(&o, l, st, occupied)
	}
	o.hasLeft = st.known() && (o.event == home.CatVisit || o.event == home.Several) && t.kind != home.Floor
	if o.hasLeft {
		o.left, o.leftSD = st.next-st.base, math.Hypot(st.nextSD, st.baseSD)
	}
	e.add(o)
}

// nameShared names a cat that was told apart from another on the scale with it.
func (t *Tracker) nameShared(e *episode, st stay, p part, mass float64) {
	o := outcome{from: e.of[st.i].T0, to: t.until(e, st), quality: sharedQuality, why: []string{"several"}, mass: mass}
	t.weigh(&o, p.level, st, p.level.Core)
	e.add(o)
}

// sharedQuality keeps such a mass out of those that are usual.
const sharedQuality = 0.35

// span is for how long a stay was heard, s, and in how many samples. A scale that
// sends on change may say nothing while a cat holds still.
func (t *Tracker) span(e *episode, st stay) (long float64, samples int) {
	for i := st.i; i < st.j; i++ {
		samples += e.of[i].N
	}
	last := e.of[st.j-1].T1
	if t.s.Device.Band > 0 {
		return seconds(t.until(e, st) - e.of[st.i].T0), samples + leastSamples
	}
	return seconds(last-e.of[st.i].T0) + t.s.Device.Hold/2.5, samples
}

// until is when a stay ended.
func (t *Tracker) until(e *episode, st stay) int64 {
	if st.j < len(e.of) {
		return e.of[st.j].T0
	}
	last := e.of[st.j-1].T1
	if hold := int64(t.s.Device.Hold * 1e9); e.after && e.end-last > 2*hold {
		return last + (e.end-last)/2 // it left while nothing was sent
	}
	return e.end
}

// look reports whether a stay was too short, or too light, to be a whole cat.
// Front paws leave nothing behind, sway more than a cat that stands, and press
// with a part of the weight that no other stay has shown.
func (t *Tracker) look(mass, long float64, l level, st stay) bool {
	u := &t.s.Usual
	if u.knows(mass) {
		return l.Core < 2
	}
	left := st.known() && st.next-st.base > math.Max(8, 3*math.Hypot(st.nextSD, st.baseSD))
	steady := l.Core > 0.75*long && (left || l.Sway < 0.02*l.G && long >= briefly)
	switch {
	case long < usually:
		return !steady
	case !u.ripe():
		return mass < 1500 && long < 20
	}
	return mass < 0.8*u.Lo && long < 30 && !(left && long >= 20)
}

// weigh fills in the uncertainty of a weighing at level l, and its quality.
func (t *Tracker) weigh(o *outcome, l level, st stay, occupied float64) {
	d := &t.s.Device
	o.event = home.CatVisit
	creep := 0.5e-3 * o.mass
	band := d.Band / math.Sqrt(3*math.Max(1, l.Core))
	o.sd = math.Sqrt(l.SD*l.SD + st.baseSD*st.baseSD + 2*d.rounding()*d.rounding() + creep*creep + band*band)
	t.grade(o, l, occupied)
}

// grade sets the quality and its reasons.
func (t *Tracker) grade(o *outcome, l level, occupied float64) {
	f := &t.s.Faults
	lower := func(to float64, why string) {
		o.quality = math.Min(o.quality, to)
		o.why = append(o.why, why)
	}
	if l.Sway > 0.03*l.G {
		lower(0.6, "moving")
	}
	if l.Core < 8 {
		lower(0.5, "brief")
	}
	if l.Core < 0.5*occupied {
		lower(0.5, "unsteady")
	}
	if t.work.stuck > 1 {
		lower(0.5, "stuck")
	}
	if f.Gaps > 0 && f.GapS > 3 {
		lower(0.8, "dropout")
	}
	if f.Spikes > 2 {
		lower(0.8, "spikes")
	}
	if o.sd > 0.01*o.mass {
		lower(0.5, "uncertain")
	}
}
