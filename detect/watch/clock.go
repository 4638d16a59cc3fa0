package watch

import (
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// clocks looks at each full hour whether the clock of a scale is wrong. A look is
// at what is known then; nothing is made again when readings come late.
type clocks struct {
	scales map[string]*detect.ClockWatch
	left   []*detect.ClockWatch
}

// set says which scales there are.
func (c *clocks) set(scales []home.Scale) {
	old := c.scales
	c.scales = map[string]*detect.ClockWatch{}
	for _, s := range scales {
		if c.scales[s.ID] = old[s.ID]; old[s.ID] == nil {
			c.scales[s.ID] = detect.NewClockWatch(s.ID)
		}
		delete(old, s.ID)
	}
	for _, gone := range old {
		c.left = append(c.left, gone)
	}
}

// restore makes a finding that was told stand; false for one that is not of this kind.
func (c *clocks) restore(f home.Finding) bool {
	if f.Sign != home.ClockWrong {
		return false
	}
	if s := c.scales[f.Source]; s != nil {
		s.Stand(f)
	}
	return true
}

// SyncClock says what the readings of a scale say of its clock. Hours may come again.
func (h *House) SyncClock(source string, hours []home.ClockHour) {
	if c := h.clocks.scales[source]; c != nil {
		c.Add(hours)
	}
}

// clock looks at each full hour after reached, up to now.
func (h *House) clock(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, gone := range h.clocks.left {
		turned = append(turned, gone.Leave(now)...)
	}
	h.clocks.left = nil
	var ids []string
	next := h.reached.Truncate(time.Hour).Add(time.Hour)
	for id, c := range h.clocks.scales {
		if first, ok := c.First(); ok {
			ids = append(ids, id)
			if h.reached.IsZero() && (len(ids) == 1 || first.Before(next)) {
				next = first
			}
		}
	}
	slices.Sort(ids)
	for ; len(ids) > 0 && !next.After(now); next = next.Add(time.Hour) {
		for _, id := range ids {
			turned = append(turned, h.clocks.scales[id].Look(next)...)
		}
	}
	return turned
}
