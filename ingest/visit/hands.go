package visit

import "math"

// hands reports whether a load that no lift and no large change betrays was a
// person leaning in. The mass of a cat is constant and a push is not: over a few
// seconds a cat's load averages to its mass however it moves. What else speaks
// for a person: less in the box afterwards, a mass never seen, a brief stay.
func (t *Tracker) hands(st stay, p part, mass, occupied float64) bool {
	l := p.level
	score := 0.0
	switch c := t.work.constancy(p.i, p.j, p.level.G); {
	case c < 0.3:
		score += 3
	case c < 0.55:
		score += 2
	case c > 0.8:
		score--
	}
	if l.Core < 0.4*occupied {
		score++
	}
	if st.known() {
		left, sd := st.next-st.base, math.Hypot(st.nextSD, st.baseSD)
		switch {
		case left < -20-2*sd:
			score += 2.5
		case left < -8-2*sd:
			score += 1.5
		case left > 10+2*sd && left < 90:
			score--
		}
	}
	switch u := &t.s.Usual; {
	case u.knows(mass):
		score--
	case u.ripe():
		score++
	}
	if l.Core < 8 {
		score += 0.5
	}
	return score >= 2.5
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
