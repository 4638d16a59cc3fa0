package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// Options say how willing a [Monitor] is to raise a false alarm.
type Options struct {
	// FalsePerCatYear is the budget of false findings of each learned sign, a
	// cat-year; 0 means DefaultFalsePerCatYear.
	FalsePerCatYear float64
}

// DefaultFalsePerCatYear is one false finding in ten cat-years.
const DefaultFalsePerCatYear = 0.1

func (o Options) budget() float64 {
	if o.FalsePerCatYear > 0 {
		return o.FalsePerCatYear
	}
	return DefaultFalsePerCatYear
}

// Monitor watches one cat. It is made again by stepping through the history,
// and is not safe for use by several goroutines at once.
type Monitor struct {
	cat       home.Cat
	care      *cares
	weights   *weights
	signs     []sign
	weighed   []int // those of them that look at weighings, by far the most of what is seen
	ticking   []ticking
	which     []int // the incident of each of those
	incidents []incident
	calm      time.Time // before it a tick does nothing
}

// New returns a Monitor of cat that has seen nothing.
func New(cat home.Cat, opt Options) *Monitor {
	care := &cares{}
	w := newWeights(cat, care)
	m := &Monitor{cat: cat, care: care, weights: w}
	m.signs = []sign{
		newFalling(w, opt),
		newRising(w, opt),
		newLow(w),
		newPlanTooFast(w),
		newBreathingRising(opt),
		newBreathingHigh(),
		newRedFlag(),
		newNotSeen(care),
		newPlanOff(w),
		newHeart(),
		newTemperature(),
		newNotEating(care),
		newEatingLess(care),
		newDrinkingMore(care, w),
		newLitterMore(care, w),
		newFrequentVisits(cat),
		newNoLitterVisit(care),
		newScores(),
		newPainScore(),
		newLumps(),
		newOverdue(cat, care),
	}
	m.incidents = make([]incident, len(m.signs))
	for i, s := range m.signs {
		m.incidents[i] = incident{cat: cat.ID, sign: s.kind()}
		if looksAtWeighings(s) {
			m.weighed = append(m.weighed, i)
		}
		if t, ok := s.(ticking); ok {
			m.ticking, m.which = append(m.ticking, t), append(m.which, i)
		}
	}
	return m
}

// Step takes the next observation, in time order, and returns what turned. An
// observation of another cat, or one that is empty, changes nothing; nor does
// one seen already.
func (m *Monitor) Step(o Observation) []home.Transition {
	if o.Cat() != m.cat.ID {
		return nil
	}
	at := o.Time()
	m.calm = time.Time{}
	m.care.take(o)
	m.weights.step(o)
	var turned []home.Transition
	if o.Weighing != nil {
		for _, i := range m.weighed {
			turned = m.stepSign(turned, i, o, at)
		}
		return turned
	}
	for i := range m.signs {
		turned = m.stepSign(turned, i, o, at)
	}
	return turned
}

func (m *Monitor) stepSign(turned []home.Transition, i int, o Observation, at time.Time) []home.Transition {
	if v := m.signs[i].step(o); v.stand != holds {
		return m.incidents[i].apply(turned, v, at)
	}
	return turned
}

// looksAtWeighings reports whether a weighing is anything to a sign.
func looksAtWeighings(s sign) bool {
	switch s.(type) {
	case *falling, *rising, *low, *planTooFast, *planOff, *notSeen, *noLitterVisit:
		return true
	}
	return false
}

// Calm is a time before which a Tick does nothing, unless something is stepped.
func (m *Monitor) Calm() time.Time { return m.calm }

// Tick lets time pass to now, a full hour UTC, and returns what turned.
func (m *Monitor) Tick(now time.Time) []home.Transition {
	if now.Before(m.calm) {
		return nil
	}
	m.weights.tick(now)
	var turned []home.Transition
	m.calm = endOfTime
	m.rest(m.weights.wake())
	for i, s := range m.ticking {
		if v := s.tick(now); v.stand != holds {
			turned = m.incidents[m.which[i]].apply(turned, v, now)
		}
		m.rest(s.wake(now))
	}
	return turned
}

// rest is calm until wake at most, unless that is zero.
func (m *Monitor) rest(wake time.Time) {
	if !wake.IsZero() && wake.Before(m.calm) {
		m.calm = wake
	}
}

// endOfTime is after everything that can be watched.
var endOfTime = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

// Outlook is what is known of the cat at now, and what is not yet.
func (m *Monitor) Outlook(now time.Time) home.Outlook {
	out := home.Outlook{Cat: m.cat.ID, AsOf: now}
	m.weights.outlook(now, &out)
	for _, s := range m.signs {
		s.outlook(now, &out)
	}
	return out
}

// Trend is the smoothed weight in kg, one point a day that has a weighing, with
// its 90 % band. It uses what came later too: it is for charts, not for findings.
func (m *Monitor) Trend() []home.TrendPoint { return m.weights.trend() }

// Open returns the findings that stand, most urgent first.
func (m *Monitor) Open() []home.Finding {
	var open []home.Finding
	for _, i := range m.incidents {
		if i.open != nil {
			open = append(open, *i.open)
		}
	}
	slices.SortStableFunc(open, func(a, b home.Finding) int { return b.Urgency.Rank() - a.Urgency.Rank() })
	return open
}
