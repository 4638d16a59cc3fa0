package visit

import "math"

// stay is a part of an episode between two moments at an empty scale.
type stay struct {
	i, j         int     // frames
	base, baseSD float64 // g over the old baseline, before it
	next, nextSD float64 // the same after it
	known        bool    // next was seen
}

// stays splits an episode where the scale was empty in between.
func (t *Tracker) stays(e *episode) []stay {
	all := t.stretches(e)
	if len(all) == 0 {
		return []stay{{i: 0, j: len(e.of), baseSD: e.baseSD, next: e.net, nextSD: e.netSD, known: e.after}}
	}
	all[0].baseSD = e.baseSD
	for k := range all[1:] {
		a, b := &all[k], &all[k+1]
		a.next, a.nextSD, a.known = t.between(e, a.j, b.i)
		b.base, b.baseSD = a.next, a.nextSD
	}
	last := &all[len(all)-1]
	last.next, last.nextSD, last.known = e.net, e.netSD, e.after
	return t.rejoin(e, all)
}

// stretches returns the frames between rests, with no levels yet.
func (t *Tracker) stretches(e *episode) []stay {
	var out []stay
	open := false
	for k := range e.of {
		if t.empty(e, e.of[k].mean()-t.s.Base.Level) {
			open = false
			continue
		}
		if !open {
			out = append(out, stay{i: k})
		}
		open = true
		out[len(out)-1].j = k + 1
	}
	return out
}

// empty reports whether y g over the old baseline may be the scale with nobody
// on it: near the load before, or near the load after.
func (t *Tracker) empty(e *episode, y float64) bool {
	if y > -t.gate() && y < t.how.Near {
		return true
	}
	return e.after && y > e.net-t.how.Near && y < e.net+t.gate()
}

// between is the level of the gap in frames i to j-1, g over the old baseline,
// and whether it lasted long enough to be believed.
func (t *Tracker) between(e *episode, i, j int) (g, sd float64, known bool) {
	t.work.size(j - i)
	hold, v := 0.0, t.work.v[:0]
	for k := i; k < j; k++ {
		hold += e.of[k].Hold
		if j-i < 4 || k > i && k < j-1 { // the outermost frames are still on the way
			v = append(v, e.of[k].mean()-t.s.Base.Level)
		}
	}
	if hold < 1 {
		return median(v), 15, false
	}
	return median(v), math.Hypot(3, t.s.Device.Noise), true
}

// rejoin joins stays that are one cat hopping out and in again.
func (t *Tracker) rejoin(e *episode, all []stay) []stay {
	out := all[:1]
	for _, st := range all[1:] {
		l := &out[len(out)-1]
		gap := seconds(e.of[st.i].T0 - e.of[l.j-1].T1)
		if gap < hop && t.sameCat(e, *l, st) {
			l.j, l.next, l.nextSD, l.known = st.j, st.next, st.nextSD, st.known
			continue
		}
		out = append(out, st)
	}
	return out
}

// hop is how long a cat may be out of the box within one visit, s.
const hop = 4.0

// sameCat reports whether two stays hold near the same load, or one of them is
// too short to tell.
func (t *Tracker) sameCat(e *episode, a, b stay) bool {
	la, lb := t.top(e.of[a.i:a.j]), t.top(e.of[b.i:b.j])
	if la.Core < 3 || lb.Core < 3 {
		return la.G > leastMass && lb.G > leastMass
	}
	return math.Abs(la.G-lb.G) < math.Max(50, 3*math.Hypot(la.SD, lb.SD))
}
