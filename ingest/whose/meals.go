package whose

import (
	"time"

	"weighbeam/home"
)

// mealWindow is how long after a cat stood on a feeder a meal there is its own.
const mealWindow = time.Minute

// meal names a meal or a drink: after a tag, else after the cat whose visit to
// the same scale it falls into, whose name it follows when that changes, else
// after the only cat that uses the scale.
func (a *Assigner) meal(m home.Visit) home.Visit {
	m.Cat, m.Confidence, m.Whose = "", 0, home.Unclear
	if cat, ok := a.said(m); ok {
		m.Cat, m.Confidence, m.Whose = cat, 1, home.Said
		return m
	}
	if s := a.last[m.Source]; s != nil && !m.Start.After(s.visit.End.Add(mealWindow)) && !m.End.Before(s.at) {
		s.meals = append(s.meals, m)
		return s.follow(m)
	}
	if scale, ok := a.house.Scale(m.Source); ok && len(scale.Cats) == 1 {
		m.Cat, m.Confidence, m.Whose = scale.Cats[0], 1-guestShare, home.Named
	}
	return m
}

// follow gives m the name of s.
func (s *step) follow(m home.Visit) home.Visit {
	m.Cat, m.Confidence, m.Whose = s.visit.Cat, s.visit.Confidence, s.visit.Whose
	return m
}
