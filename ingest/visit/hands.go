package visit

import "math"

// hands reports whether a load that no lift and no large change betrays was a
// person leaning in. The mass of a cat is constant and a push is not: over a few
// seconds a cat's load averages to its mass however it moves, and most of its
// time is spent near it. What else speaks for a person: less in the box
// afterwards, and a mass never seen. The weights are those of a logistic
// regression on simulated houses (two generators, half of each held back).
func (t *Tracker) hands(st stay, p part, mass, occupied float64) bool {
	l := p.level
	score := 1.1 -
		1.4*math.Min(l.Core/occupied, 1) +
		135*math.Min(l.Sway/l.G, 0.06) -
		1.25*t.work.constancy(p.i, p.j, l.G) -
		0.3*math.Min(l.Core, 20)
	if t.s.Usual.knows(mass) {
		score -= 2.6
	}
	if st.known() {
		score += emptier(st.next-st.base, math.Hypot(st.nextSD, st.baseSD))
	}
	return score > 0
}

// emptier is what the change in the box says for a person: more than digging
// throws out is missing, or a cat left something.
func emptier(left, sd float64) float64 {
	if left > 8+2*sd {
		return -2.2
	}
	return 0.29 * min(max(-left-2*sd-5, 0), 40)
}

const (
	block  = 3.0  // s over which a cat's load averages to its mass
	within = 0.05 // of it
)

// constancy is the share of blocks of frames i to j-1 whose mean is within a
// few hundredths of g. The first and last moments, stepping on and off, are left out.
func (w *work) constancy(i, j int, g float64) float64 {
	good, all := 0.0, 0.0
	sum, hold, done := 0.0, 0.0, 0.0
	total := 0.0
	for k := i; k < j; k++ {
		total += w.h[k]
	}
	for k := i; k < j; k++ {
		done += w.h[k]
		if done < math.Min(2, total/6) || done > total-math.Min(2, total/6) {
			continue
		}
		sum += w.h[k] * w.y[k]
		if hold += w.h[k]; hold >= block {
			all++
			if math.Abs(sum/hold-g) < within*g {
				good++
			}
			sum, hold = 0, 0
		}
	}
	return (good + 1.4) / (all + 2) // a few blocks say little
}
