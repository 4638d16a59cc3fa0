package visit

import "math"

// part is a stretch of a stay with one cat, or with several at once.
type part struct {
	i, j    int   // frames of the stay
	level   level // of several only where they stood at one level throughout
	several bool
	shared  bool // two were there at once, and this one's mass was told apart
}

const (
	onePart   = 2.5  // s at one level before it may be somebody
	oneCat    = 4.0  // s at one level before it may be a cat of its own
	paws      = 0.78 // of the full load: less is a cat with part of its weight elsewhere
	alone     = 7.0  // s at one level before it is nobody's front paws
	stackedBy = 1.3  // times one cat's load: two of them
)

// cast tells how many cats a stay held, from the levels it went through over base.
func (t *Tracker) cast(fr []frame, base float64) []part {
	w := &t.work
	groups := t.groups(w.segments(fr, base, t.stepSize(), t.s.Device.Band))
	whole := part{i: 0, j: len(fr)}
	if len(groups) == 0 {
		whole.level = t.steady(whole, t.longest(w.cuts))
		return []part{whole}
	}
	top := groups[0]
	for _, g := range groups {
		if g.Level > top.Level {
			top = g
		}
	}
	if t.stacked(groups, top) {
		if two := t.untangle(groups, top, len(fr)); two != nil {
			return two
		}
		whole.several = true
		if len(groups) == 1 {
			whole.level = t.steady(whole, top.Level)
		}
		return []part{whole}
	}
	return t.turns(fr, t.wholeCats(groups))
}

// stepSize is the rounding of the scale, 0 where a value repeated means nothing.
func (t *Tracker) stepSize() float64 {
	if d := &t.s.Device; d.Band == 0 {
		return math.Max(d.Quantum, 0.1)
	}
	return 0
}

// groups joins the segments that may be somebody into levels in time order.
func (t *Tracker) groups(cuts []segment) []segment {
	total := 0.0
	for _, c := range cuts {
		total += c.Hold
	}
	var out []segment
	for _, c := range cuts {
		if c.Level < t.how.Least || c.Hold < math.Min(onePart, total/4) {
			continue
		}
		if n := len(out); n > 0 && math.Abs(out[n-1].Level-c.Level) < t.apart(out[n-1], c) {
			l := &out[n-1]
			l.Level = (l.Level*l.Hold + c.Level*c.Hold) / (l.Hold + c.Hold)
			l.Hold += c.Hold
			l.J = c.J
			continue
		}
		out = append(out, c)
	}
	return out
}

// apart is how far two levels must differ not to be the same.
func (t *Tracker) apart(a, b segment) float64 {
	return max(80, 0.02*math.Max(a.Level, b.Level), 3*t.doubt(a, b))
}

// doubt is the standard deviation of the difference of two levels from sway
// alone, which moves neighbouring frames together.
func (t *Tracker) doubt(a, b segment) float64 {
	return 1.5 * t.work.sway * math.Sqrt(1/float64(a.J-a.I)+1/float64(b.J-b.I))
}

func (t *Tracker) longest(cuts []segment) float64 {
	best := segment{}
	for _, c := range cuts {
		if c.Hold > best.Hold {
			best = c
		}
	}
	return best.Level
}

func (t *Tracker) steady(p part, near float64) level {
	return t.work.steady(p.i, p.j, near, t.floor(near))
}

// stacked reports whether the highest level is two cats at once rather than one
// after another or one with part of its weight elsewhere.
func (t *Tracker) stacked(groups []segment, top segment) bool {
	u := &t.s.Usual
	if top.Hold < oneCat && len(groups) > 1 {
		return false // the second crowds in as the first leaves
	}
	switch {
	case u.knows(top.Level):
		return false
	case top.Level > 13000, u.ripe() && u.Lo > 0 && top.Level > math.Max(heavier*u.Hi, twice*u.Lo):
		return true
	}
	for i, a := range groups {
		rest := top.Level - a.Level
		if rest < (stackedBy-1)*a.Level || a.Hold < oneCat {
			continue
		}
		if u.knows(a.Level) && u.knows(rest) {
			return true
		}
		for _, b := range groups[i+1:] {
			if b.Hold < alone || a.Hold < alone {
				continue // as long as one cat may stand with its front paws in
			}
			around := b.I >= top.J && a.J <= top.I && b.Level < top.Level/stackedBy
			if around && !u.ripe() || math.Abs(b.Level-rest) < 0.04*top.Level {
				return true
			}
		}
	}
	return false
}

// wholeCats leaves out the levels of a cat with part of its weight elsewhere, and
// of two that crowd at the door.
func (t *Tracker) wholeCats(groups []segment) []segment {
	most := groups[0]
	for _, g := range groups {
		if g.Hold >= oneCat && g.Level > most.Level || most.Hold < oneCat && g.Hold > most.Hold {
			most = g
		}
	}
	out := groups[:0]
	for _, g := range groups {
		whole := g.Level > paws*most.Level && g.Level <= most.Level
		if whole || g.Hold >= oneCat && t.s.Usual.knows(g.Level) {
			out = append(out, g)
		}
	}
	return out
}

// turns makes a part of each cat that came in turn.
func (t *Tracker) turns(fr []frame, groups []segment) []part {
	cur, from := groups[0], 0
	var out []part
	for _, g := range groups[1:] {
		if !t.changed(fr, cur, g) {
			if g.Hold > cur.Hold {
				g.I = cur.I
				cur = g
			}
			cur.J = g.J
			continue
		}
		cut := t.lowest(cur.J, g.I)
		out = append(out, t.partOf(from, cut, cur))
		from, cur = cut, g
	}
	return append(out, t.partOf(from, len(fr), cur))
}

func (t *Tracker) partOf(i, j int, g segment) part {
	p := part{i: i, j: j}
	p.level = t.steady(p, g.Level)
	return p
}

// lowest is the frame of the least load from i to j.
func (t *Tracker) lowest(i, j int) int {
	at := i
	for k := i; k < j; k++ {
		if t.work.y[k] < t.work.y[at] {
			at = k
		}
	}
	return max(at, 1)
}

// changed reports whether b is another cat than a: both long enough, surely of
// another mass, and a stepping off, a crowding or a dropout in between, or both known.
func (t *Tracker) changed(fr []frame, a, b segment) bool {
	if a.Hold < oneCat || b.Hold < oneCat {
		return false
	}
	la, lb := t.steady(part{i: a.I, j: a.J}, a.Level), t.steady(part{i: b.I, j: b.J}, b.Level)
	lo, hi := math.Min(la.G, lb.G), math.Max(la.G, lb.G)
	doubt := math.Max(math.Hypot(la.SD, lb.SD), t.doubt(a, b))
	if hi-lo < math.Max(0.02*hi, 5*doubt) {
		return false
	}
	down, up := lo-math.Max(0.35*lo, 5*t.work.sway), hi+math.Max(0.25*hi, 5*t.work.sway)
	for k := max(a.J-2, a.I); k < min(b.I+2, b.J); k++ {
		unheard := k > 0 && seconds(fr[k].T0-fr[k-1].T1) > math.Max(2, 3*t.s.Device.Hold)
		if t.work.y[k] < down || t.work.y[k] > up || unheard && t.s.Device.Band == 0 {
			return true
		}
	}
	u := &t.s.Usual
	return math.Min(a.Hold, b.Hold) >= 2*oneCat && u.knows(a.Level) && u.knows(b.Level) && hi-lo > 2*alike*hi
}
