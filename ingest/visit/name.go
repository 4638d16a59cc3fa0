package visit

import (
	"math"

	"weighbeam/home"
)

const (
	lifted    = 1200.0 // g under the old baseline: more than a lid
	thrown    = 35.0   // g a digging cat may throw out, and no more
	carried   = 200.0  // g a cat may leave in one stay, and no more
	leastMass = 250.0  // g; lighter is a paw or a push
	leastCore = 1.5    // s of steady load, or nothing was weighed
	briefly   = 12.0   // s; a stay shorter than this is a weighing only of a mass known
	together2 = 1.4    // times the heaviest cat known: more than one
)

// name finds the events in an episode.
func (t *Tracker) name(e *episode) {
	if bowl(t.kind) {
		t.nameBowl(e)
		return
	}
	if ev, why := t.person(e); ev != "" {
		e.hands = true
		e.add(outcome{event: ev, from: t.s.Start, to: e.end, left: e.net, leftSD: e.netSD, hasLeft: e.after, quality: 1, why: why})
		return
	}
	for _, st := range t.stays(e) {
		t.nameStay(e, st)
	}
}

func (e *episode) add(o outcome) { e.outcome = append(e.outcome, o) }

// person names what only a person does to a box: lift it, take out, put in.
func (t *Tracker) person(e *episode) (home.Event, []string) {
	under, deep := 0.0, 0.0
	for i := range e.of {
		if y := e.of[i].mean() - t.s.Base.Level; y < -math.Max(2*t.gate(), 100) {
			under += e.of[i].Hold
			deep = math.Min(deep, y)
		}
	}
	if !e.after {
		return "", nil
	}
	lift := under >= 0.5
	switch {
	case lift && deep < -lifted, math.Abs(e.net) > 3000:
		return home.Moved, nil
	case e.net < -math.Max(thrown, 4*e.netSD):
		return home.Scooped, nil
	case e.net > carried:
		return home.ToppedUp, nil
	case lift:
		return home.Knocked, []string{"lid"}
	}
	return "", nil
}

// stay is a part of an episode between two moments at an empty scale.
type stay struct {
	i, j         int     // frames
	base, baseSD float64 // g over the old baseline, before it
	next, nextSD float64 // the same after it
	known        bool    // next was seen
}

// stays splits an episode where the scale was empty in between.
func (t *Tracker) stays(e *episode) []stay {
	var out []stay
	near := t.how.Near
	cur := stay{i: -1, baseSD: e.baseSD}
	gapFrom := 0
	for k := range e.of {
		if e.of[k].mean()-t.s.Base.Level < near {
			if cur.i >= 0 && cur.j == 0 {
				cur.j, gapFrom = k, k
			}
			continue
		}
		switch {
		case cur.i < 0:
			cur.i = k
		case cur.j > 0:
			g, sd, hold := t.between(e, gapFrom, k)
			cur.next, cur.nextSD, cur.known = g, sd, hold >= 1
			out = append(out, cur)
			cur = stay{i: k, base: g, baseSD: sd}
		}
	}
	if cur.i < 0 {
		return append(out, stay{i: 0, j: len(e.of), baseSD: e.baseSD, next: e.net, nextSD: e.netSD, known: e.after})
	}
	if cur.j == 0 {
		cur.j = len(e.of)
	}
	cur.next, cur.nextSD, cur.known = e.net, e.netSD, e.after
	return t.rejoin(e, append(out, cur))
}

// between is the level of the gap in frames i to j-1, g over the old baseline.
func (t *Tracker) between(e *episode, i, j int) (g, sd, hold float64) {
	sum := 0.0
	for k := i; k < j; k++ {
		sum += e.of[k].Sum
		hold += e.of[k].Hold
	}
	g = sum/hold - t.s.Base.Level
	if hold < 1 || j-i < 3 {
		return math.Max(e.net, 0) / 2, 15, hold
	}
	return g, math.Max(4, t.s.Device.Noise), hold
}

// rejoin joins stays that are one cat hopping out and in again.
func (t *Tracker) rejoin(e *episode, all []stay) []stay {
	out := all[:1]
	for _, st := range all[1:] {
		l := &out[len(out)-1]
		gap := seconds(e.of[st.i].T0 - e.of[l.j-1].T1)
		if gap < 8 && t.sameCat(e, *l, st) {
			l.j, l.next, l.nextSD, l.known = st.j, st.next, st.nextSD, st.known
			continue
		}
		out = append(out, st)
	}
	return out
}

// sameCat reports whether two stays hold near the same load, or one of them is
// too short to tell.
func (t *Tracker) sameCat(e *episode, a, b stay) bool {
	la, lb := t.top(e.of[a.i:a.j]), t.top(e.of[b.i:b.j])
	if la.Core < 3 || lb.Core < 3 {
		return true
	}
	return math.Abs(la.G-lb.G) < math.Max(50, 3*math.Hypot(la.SD, lb.SD))
}

// top is the steady level of a stay that is highest among those held for long.
func (t *Tracker) top(fr []frame) level {
	segs := t.work.segments(fr, t.s.Base.Level)
	best, total := segment{}, 0.0
	for _, c := range segs {
		total += c.Hold
	}
	for _, c := range segs {
		if c.Hold >= math.Min(2.5, total/4) && (best.Hold == 0 || c.Hold > best.Hold*2 || c.Level > best.Level && c.Hold > best.Hold/4) {
			best = c
		}
	}
	return t.work.steady(0, len(fr), best.Level, t.floor(best.Level))
}

// floor is the least standard deviation of a frame that is believed.
func (t *Tracker) floor(g float64) float64 {
	return math.Hypot(t.s.Device.Noise, 0.002*g) + t.s.Device.rounding()
}
