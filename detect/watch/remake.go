package watch

import (
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// remake makes the monitor anew up to the point reached, from where the past is
// another, and returns the difference to what was told, dated there.
func (m *member) remake(reached time.Time) []home.Transition {
	m.stale = false
	m.back()
	for m.next < m.seen.len() && !m.seen.time(m.next).After(reached) {
		m.mark(reached)
		m.step(nil)
	}
	m.hours(reached)
	m.stand()
	open := map[home.Sign]bool{}
	var turned []home.Transition
	for _, f := range m.monitor.Open() {
		open[f.Sign] = true
		if t, ok := m.differ(f, reached); ok {
			turned = append(turned, t)
		}
	}
	for sign, f := range m.told {
		switch _, known := m.doubt[sign]; {
		case open[sign] || known:
		case m.seenAfter(reached, f): // not made anew here, see [House.Heed]
			m.ahead = f.Onset
		default:
			m.doubt[sign] = reached
		}
	}
	return turned
}

// differ compares an open finding with what was told under its sign, and returns
// what is to be told of the difference.
func (m *member) differ(f home.Finding, at time.Time) (home.Transition, bool) {
	told, ok := m.told[f.Sign]
	delete(m.doubt, f.Sign)
	if !ok {
		f.Raised, f.Updated = at, at
		m.told[f.Sign] = f
		return home.Transition{Turn: home.Raised, At: at, Finding: f}, true
	}
	turn := home.Updated
	switch d := f.Urgency.Rank() - told.Urgency.Rank(); {
	case d > 0 || detect.SeenAnew(told, f):
		turn = home.Worsened
	case d < 0:
		turn = home.Eased
	case f.Text == told.Text || at.Sub(told.Updated) < 24*time.Hour: // late readings move figures all the time
		return home.Transition{}, false
	}
	f.Raised, f.Updated = told.Raised, at
	m.told[f.Sign] = f
	return home.Transition{Turn: turn, At: at, Finding: f}, true
}

// stand lets a silence that was told stand, where the last word of the scale is so
// old that it is no longer kept.
func (m *member) stand() {
	s, ok := m.monitor.(*detect.Silence)
	f, told := m.told[home.ScaleSilent]
	if !ok || !told || len(s.Open()) > 0 {
		return
	}
	if n := m.seen.len(); n == 0 || !m.seen.time(n-1).After(f.Onset) {
		s.Stand(f)
	}
}
