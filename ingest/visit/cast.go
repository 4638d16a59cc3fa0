package visit

import "math"

// part is a stretch of a stay with one cat, or with several at once.
type part struct {
	i, j    int // frames of the stay
	level   level
	several bool
}

const (
	onePart   = 2.5  // s at one level before it may be somebody
	oneCat    = 4.0  // s at one level before it may be a cat of its own
	paws      = 0.78 // of the full load: less is a cat with part of its weight elsewhere
	stackedBy = 1.3  // times one cat's load: two of them
)

// cast tells how many cats a stay held, from the levels it went through.
func (t *Tracker) cast(fr []frame) []part {
	w := &t.work
	groups := t.groups(w.segments(fr, t.s.Base.Level))
	whole := part{i: 0, j: len(fr)}
	if len(groups) == 0 {
		whole.level = t.steady(whole, t.longest(w.cuts))
		return []part{whole}
	}
	top := groups[0].Level
	for _, g := range groups {
		top = math.Max(top, g.Level)
	}
	if t.stacked(groups, top) {
		whole.several = true
		return []part{whole}
	}
	return t.turns(fr, t.wholeCats(groups, top))
}

// groups joins the segments that may be somebody into levels in time order.
func (t *Tracker) groups(cuts []segment) []segment {
	total := 0.0
	for _, c := range cuts {
		total += c.Hold
	}
	var out []segment
	for _, c := range cuts {
		if c.Level < leastMass || c.Hold < math.Min(onePart, total/4) {
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
	s := t.work.sway
	se := 1.5 * s * math.Sqrt(1/float64(a.J-a.I)+1/float64(b.J-b.I))
	return max(80, 0.02*math.Max(a.Level, b.Level), 3*se)
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

// stacked reports whether the highest level is two cats: it is the sum of two
// others, or another stays long below it that is a whole cat by itself.
func (t *Tracker) stacked(groups []segment, top float64) bool {
	u := &t.s.Usual
	if _, hi := u.span(); u.ripe() && top > together2*hi || top > 13000 {
		return true
	}
	for i, a := range groups {
		if top < stackedBy*a.Level {
			continue
		}
		rest := top - a.Level
		if u.knows(a.Level) && (u.knows(rest) || !u.knows(top)) {
			return true
		}
		for _, b := range groups[i+1:] {
			if b.Hold >= onePart && math.Abs(b.Level-rest) < 0.04*top {
				return true
			}
		}
		if !u.ripe() && a.Hold >= 6 {
			return true
		}
	}
	return false
}

// wholeCats leaves out the levels of a cat with part of its weight elsewhere.
func (t *Tracker) wholeCats(groups []segment, top float64) []segment {
	out := groups[:0]
	for _, g := range groups {
		if g.Level > paws*top || g.Hold >= oneCat && t.s.Usual.knows(g.Level) {
			out = append(out, g)
		}
	}
	return out
}

// turns makes a part of each cat that came in turn.
func (t *Tracker) turns(fr []frame, groups []segment) []part {
	cur := groups[0]
	var out []part
	from := 0
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

// changed reports whether b is another cat than a: both long enough, and a
// stepping off or a crowding in between, or two masses that are both known.
func (t *Tracker) changed(fr []frame, a, b segment) bool {
	if a.Hold < oneCat || b.Hold < oneCat {
		return false
	}
	lo, hi := math.Min(a.Level, b.Level), math.Max(a.Level, b.Level)
	for k := max(a.J-2, a.I); k < min(b.I+2, b.J); k++ {
		if t.work.y[k] < 0.65*lo || t.work.y[k] > 1.25*hi {
			return true
		}
	}
	return t.s.Usual.knows(a.Level) && t.s.Usual.knows(b.Level) && hi-lo > 2*alike*hi
}
