package visit

import "math"

const (
	solo    = 5.0  // s that a cat must be alone to be weighed though another was there too
	adds    = 0.04 // how well the load of two must be the sum of each alone
	notPaws = 1000 // g; less on top of one cat is no other cat
)

// untangle weighs two cats that were there at once from the moments when one of
// them was alone: from the load before the second came and after the first left,
// or, where one came and went while the other stayed, by the difference. It
// returns nil where the levels do not add up.
func (t *Tracker) untangle(groups []segment, top segment, n int) []part {
	var a, b segment // alone before, alone after
	for _, g := range groups {
		switch {
		case g.Hold < solo || g.Level > top.Level/stackedBy:
		case g.J <= top.I:
			a = g
		case g.I >= top.J && b.Hold == 0:
			b = g
		}
	}
	first, both, last := t.alone(a), t.alone(top), t.alone(b)
	switch {
	case a.Hold > 0 && b.Hold > 0 && math.Abs(first.G+last.G-both.G) < adds*both.G:
		return pair(part{i: 0, j: top.J, level: first}, part{i: top.I, j: n, level: last})
	case a.Hold > 0 && b.Hold > 0 && math.Abs(first.G-last.G) > math.Max(0.025*first.G, 60):
		return nil
	case a.Hold > 0:
		return pair(part{i: 0, j: n, level: first}, part{i: top.I, j: top.J, level: less(both, first)})
	case b.Hold > 0:
		return pair(part{i: 0, j: top.J, level: less(both, last)}, part{i: 0, j: n, level: last})
	}
	return nil
}

func (t *Tracker) alone(g segment) level {
	if g.Hold == 0 {
		return level{}
	}
	return t.steady(part{i: g.I, j: g.J}, g.Level)
}

// less is the level of one cat from that of two and that of the other.
func less(both, other level) level {
	return level{G: both.G - other.G, SD: math.Hypot(both.SD, other.SD), Core: math.Min(both.Core, other.Core), Sway: both.Sway}
}

func pair(a, b part) []part {
	if a.level.G < notPaws || b.level.G < notPaws {
		return nil
	}
	a.shared, b.shared = true, true
	return []part{a, b}
}
