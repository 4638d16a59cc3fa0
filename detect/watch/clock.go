package watch

import (
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// newClocks looks at each full hour whether the clock of a scale is wrong.
func newClocks() perScale[*detect.ClockWatch] {
	return perScale[*detect.ClockWatch]{sign: home.ClockWrong, anew: detect.NewClockWatch}
}

// SyncClock says what the readings of a scale say of its clock. Hours may come again.
func (h *House) SyncClock(source string, hours []home.ClockHour) {
	if c := h.clocks.of[source]; c != nil {
		c.Add(hours)
	}
}

// clock looks at each full hour after reached, up to now.
func (h *House) clock(now time.Time) []home.Transition {
	turned := h.clocks.leave(now)
	if now.Before(h.hour) {
		return turned
	}
	next := h.reached.Truncate(time.Hour).Add(time.Hour)
	var heard []*detect.ClockWatch
	for _, id := range h.clocks.ids {
		c := h.clocks.of[id]
		first, ok := c.First()
		if !ok {
			continue
		}
		heard = append(heard, c)
		if h.reached.IsZero() && (len(heard) == 1 || first.Before(next)) {
			next = first
		}
	}
	for ; len(heard) > 0 && !next.After(now); next = next.Add(time.Hour) {
		for _, c := range heard {
			turned = append(turned, c.Look(next)...)
		}
	}
	return turned
}
