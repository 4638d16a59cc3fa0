package visit

import (
	"math"
	"slices"
)

// stay is a part of an episode between two moments at an empty scale.
type stay struct {
	i, j         int     // frames
	base, baseSD float64 // g over the old baseline, before it
	next, nextSD float64 // the same after it
	from, to     bool    // base, next were seen, not guessed
}

// known reports whether what the stay changed was measured.
func (s stay) known() bool { return s.from && s.to }

// stays splits an episode where the scale was empty in between.
func (t *Tracker) stays(e *episode) []stay {
	all := t.stretches(e)
	if len(all) == 0 {
		return []stay{{i: 0, j: len(e.of), baseSD: e.baseSD, next: e.net, nextSD: e.netSD, from: true, to: e.after}}
	}
	all[0].baseSD = e.baseSD
	all[0].from = true
	for k := range all[1:] {
		a, b := &all[k], &all[k+1]
		a.next, a.nextSD, a.to = t.between(e, a.j, b.i)
		b.base, b.baseSD, b.from = a.next, a.nextSD, a.to
	}
	last := &all[len(all)-1]
	last.next, last.nextSD, last.to = e.net, e.netSD, e.after
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
		if k > 0 && t.silent(e.of[k-1], e.of[k]) {
			open = false
		}
		if !open {
			out = append(out, stay{i: k})
		}
		open = true
		out[len(out)-1].j = k + 1
	}
	return out
}

// silent reports whether so long a silence lies between two frames that a scale
// which sends only while something is on it says: nothing was.
func (t *Tracker) silent(a, b frame) bool {
	return t.s.Device.Band == 0 && seconds(b.T0-a.T1) > math.Max(vacant, 4*t.s.Device.Hold)
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
// and whether it lasted long enough to be believed. A short gap is on the way
// down or up for much of its time, so its lower frames count; and where the
// whole episode changed no more than cats can, it lies between the ends.
func (t *Tracker) between(e *episode, i, j int) (g, sd float64, known bool) {
	t.work.size(j - i)
	hold, v := 0.0, t.work.v[:0]
	for k := i; k < j; k++ {
		hold += e.of[k].Hold
		v = append(v, e.of[k].mean()-t.s.Base.Level)
	}
	slices.Sort(v)
	cats := e.after && e.net > -thrown && e.net < carried
	switch {
	case cats && hold < 1:
		return e.net / 2, 10 + math.Abs(e.net)/4, false
	case len(v) == 0: // silence, and a person took part: before or after
		return 0, 15 + math.Abs(e.net)/2, false
	}
	g, sd = v[(len(v)-1)/3], math.Sqrt(9+t.variance(1)+t.moving())
	if cats {
		g = math.Max(math.Min(0, e.net), math.Min(g, math.Max(0, e.net)))
	}
	return g, sd, hold >= 1
}

const (
	hop     = 4.0  // s a cat may be out of the box within one visit
	vacant  = 20.0 // s of silence that may mean an empty scale
	dropout = 60.0 // s of silence that may not, where the load is the same after it
	settled = 4.0  // s of steady load that make a stay of its own
)

// rejoin joins stays that are parts of one visit.
func (t *Tracker) rejoin(e *episode, all []stay) []stay {
	out := all[:1]
	for _, st := range all[1:] {
		l := &out[len(out)-1]
		if t.oneVisit(e, *l, st) {
			l.j, l.next, l.nextSD, l.to = st.j, st.next, st.nextSD, st.to
			continue
		}
		out = append(out, st)
	}
	return out
}

// oneVisit reports whether b goes on where a stopped: a cat that stepped in
// twice, or one that was there all through a dropout. Two long stays with an
// empty scale between them are two, however alike: no cat is out and back in a
// moment, and where two cats of one mass come in turn that is all there is.
func (t *Tracker) oneVisit(e *episode, a, b stay) bool {
	gap := seconds(e.of[b.i].T0 - e.of[a.j-1].T1)
	unheard := a.j == b.i
	if gap >= dropout || gap >= hop && !unheard {
		return false
	}
	la, lb := t.top(e.of[a.i:a.j]), t.top(e.of[b.i:b.j])
	if la.Core < settled || lb.Core < settled {
		return gap < hop && la.G > t.how.Least && lb.G > t.how.Least
	}
	return unheard && math.Abs(la.G-lb.G) < math.Max(50, 2*math.Hypot(la.SD, lb.SD))
}
