package visit

import "math"

// hands reports whether a load that no lift and no large change betrays was a
// person leaning in. The mass of a cat is constant and a push is not: over a few
// seconds a cat's load averages to its mass however it moves. What else speaks
// for a person: restless all the time, less in the box afterwards, a mass never
// seen, a short stay. The points were set on simulated houses.
func (t *Tracker) hands(st stay, p part, mass, long, occupied float64) bool {
	l := p.level
	score := below(l.Core/occupied, 0.68, 1) + below(l.Core/occupied, 0.5, 0.5) +
		below(0.036, l.Sway/l.G, 1) + below(0.045, l.Sway/l.G, 0.5)
	switch c := t.work.constancy(p.i, p.j, l.G); {
	case c < 0.3:
		score += 1.5
	case c < 0.55:
		score += 0.75
	case c > 0.84:
		score--
	}
	switch u := &t.s.Usual; {
	case u.knows(mass):
		score -= 0.75
	case u.ripe():
		score += 0.75
	}
	if st.known() {
		score += emptier(st.next-st.base, math.Hypot(st.nextSD, st.baseSD))
	}
	if long < 25 {
		return score+0.5 >= handsScore
	}
	return score-1 >= handsScore
}

const handsScore = 2.0

// emptier is what the change in the box says for a person.
func emptier(left, sd float64) float64 {
	switch {
	case left > 10+2*sd && left < 90:
		return -1.5
	case left < -18-2*sd:
		return 3
	case left < -10-2*sd:
		return 1.5
	}
	return 0
}

// below is points where v is below limit, else 0.
func below(v, limit, points float64) float64 {
	if v < limit {
		return points
	}
	return 0
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
