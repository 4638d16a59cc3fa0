package watch

import (
	"time"

	"weighbeam/home"
)

// Heed returns the red flags that are known and that watching has not come to: because
// what makes weighings is behind, as at a start, or because the clock that dated them is
// ahead of that of the house. It is called after [House.Advance]; now is the time on the
// clock. A red flag rests on nothing but itself, and so need not wait for what came before.
func (h *House) Heed(now time.Time) (turned []home.Transition) {
	if len(h.prompts) == 0 {
		return nil
	}
	for _, m := range h.all {
		if t, ok := m.heed(h.reached, now); ok {
			turned = append(turned, t)
		}
	}
	return turned
}

// heed is the red flag that stands by the home checks after reached alone, where it was not
// told. When watching comes to it, it was.
func (m *member) heed(reached, now time.Time) (t home.Transition, ok bool) {
	if m.left || m.seen.scale {
		return t, false
	}
	alone := m.anew()
	for i := m.seen.from(reached.Add(home.TimeStep)); i < m.seen.len(); i++ {
		if o := m.seen.at(i, &m.weighing); o.Check != nil {
			alone.Step(o)
		}
	}
	for _, f := range alone.Open() {
		if f.Sign != home.RedFlagSeen {
			continue
		}
		at := f.Updated
		if at.After(now) { // by a clock that is ahead: it was seen by now
			at = now
		}
		if t, ok = m.differ(f, at); ok {
			m.ahead, m.wake = f.Onset, earlier(m.wake, f.Onset)
		}
	}
	return t, ok
}

// seenAfter reports whether f rests on what was seen after reached, and is still known.
func (m *member) seenAfter(reached time.Time, f home.Finding) bool {
	if !f.Onset.After(reached) {
		return false
	}
	for i := m.seen.from(f.Onset); i < m.seen.len() && m.seen.time(i).Equal(f.Onset); i++ {
		if o := m.seen.at(i, &m.weighing); o.Check != nil && len(o.Check.RedFlags) > 0 {
			return true
		}
	}
	return false
}
