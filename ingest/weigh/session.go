package weigh

import (
	"math"
	"slices"
	"time"

	"weighbeam/home"
)

// session is a time in which known masses lay on a scale. They are no cats.
type session struct {
	from, to time.Time
	by       home.Calibration
	loaded   float64 // kg over the empty scale that say that a mass is still on it
}

// takenOff is how long after the last reading of a session its last mass may stay on
// the scale.
const takenOff = 30 * time.Minute

func sessionsOf(all []home.Calibration) []session {
	var out []session
	for _, c := range all {
		if from, to := c.Session(); !from.IsZero() {
			out = append(out, session{from: from, to: to, by: c, loaded: 0.4 * lightest(c)})
		}
	}
	return out
}

// lightest is the lightest mass that was put on, kg.
func lightest(c home.Calibration) float64 {
	least := math.Inf(1)
	for _, p := range c.Points {
		if p.Kg > 0 {
			least = math.Min(least, p.Kg)
		}
	}
	return least
}

// during reports whether known masses were read at that time.
func (s *scale) during(at time.Time) bool {
	return slices.ContainsFunc(s.sessions, func(t session) bool { return !at.Before(t.from) && !at.After(t.to) })
}

// testing reports whether a load is of a known mass: during a session, and after its
// last reading until the scale is about as empty as it was.
func (s *scale) testing(at time.Time, loadKg float64) bool {
	for i := range s.sessions {
		t := &s.sessions[i]
		if at.Before(t.from) || at.After(t.to.Add(takenOff)) {
			continue
		}
		if !at.After(t.to) || t.by.Correct(loadKg) > t.loaded {
			return true
		}
		t.to = t.from.Add(-takenOff - 1) // it is over: what comes next is a cat
	}
	return false
}
