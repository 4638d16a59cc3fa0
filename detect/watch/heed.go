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

// heed is the red flag that stands by the home checks after reached alone, where none was
// told. When watching comes to it, it was told.
func (m *member) heed(reached, now time.Time) (home.Transition, bool) {
	if _, told := m.told[home.RedFlagSeen]; told || m.left || m.seen.scale {
		return home.Transition{}, false
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
		if f.Raised.After(now) { // by a clock that is ahead: it was seen by now
			f.Raised, f.Updated = now, now
		}
		m.told[f.Sign], m.ahead, m.wake = f, f.Onset, earlier(m.wake, f.Onset)
		return home.Transition{Turn: home.Raised, At: f.Raised, Finding: f}, true
	}
	return home.Transition{}, false
}
