package detect

import (
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
)

// ClockWatch finds that the clock of a scale is wrong, from when readings arrived
// and what the device said. A device that keeps readings and sends them late looks
// like one whose clock is behind, but not evenly: a wrong clock is wrong by the
// same in every hour.
type ClockWatch struct {
	scale string
	hours []home.ClockHour // in time order
	wrong incident
}

// The limits are choices of this program: two minutes put the visits of two scales
// in the wrong order, and a poor crystal drifts by 17 s a day (200 ppm, common
// practice, no published source), so hours of one day agree within a minute.
const (
	clockOff    = 2 * time.Minute
	clockRight  = time.Minute
	clockEven   = time.Minute
	clockHours  = 3 // that agree
	clockBack   = oneDay
	clockGrid   = 15 * time.Minute // civil time is a multiple of it away from UTC
	clockNearly = 2 * time.Minute  // of the grid
)

// NewClockWatch returns a ClockWatch of the scale that has seen nothing.
func NewClockWatch(scale string) *ClockWatch {
	return &ClockWatch{scale: scale, wrong: incident{sign: home.ClockWrong}}
}

// Add takes in what is known of hours. An hour may come again with more of its
// readings; of two, the least lag counts.
func (c *ClockWatch) Add(hours []home.ClockHour) {
	for _, h := range hours {
		i, known := slices.BinarySearchFunc(c.hours, h.Hour, func(x home.ClockHour, at time.Time) int { return x.Hour.Compare(at) })
		if !known {
			c.hours = slices.Insert(c.hours, i, h)
			continue
		}
		old := &c.hours[i]
		if h.Dated && (!old.Dated || h.Behind < old.Behind) {
			old.Behind, old.Dated = h.Behind, true
		}
		old.Refused = old.Refused || h.Refused
	}
}

// First is when the first hour that is known of began; false for none.
func (c *ClockWatch) First() (time.Time, bool) {
	if len(c.hours) == 0 {
		return time.Time{}, false
	}
	return c.hours[0].Hour, true
}

// Look judges the hours that ended by now, a full hour, and returns what turned.
// What is older than a day is forgotten.
func (c *ClockWatch) Look(now time.Time) []home.Transition {
	from, _ := slices.BinarySearchFunc(c.hours, now.Add(-clockBack), func(x home.ClockHour, at time.Time) int { return x.Hour.Compare(at) })
	c.hours = slices.Delete(c.hours, 0, from)
	to, _ := slices.BinarySearchFunc(c.hours, now, func(x home.ClockHour, at time.Time) int { return x.Hour.Compare(at) })
	return c.told(c.wrong.apply(nil, judgeClock(c.hours[:to]), now))
}

// judgeClock looks at the newest hours.
func judgeClock(hours []home.ClockHour) verdict {
	if len(hours) == 0 {
		return verdict{}
	}
	if last := hours[len(hours)-1]; last.Dated && !last.Refused && last.Behind.Abs() < clockRight {
		return clearAs("The clock of the scale is right again.")
	}
	if len(hours) < clockHours {
		return verdict{}
	}
	newest := hours[len(hours)-clockHours:]
	refused, off := 0, 0
	for _, h := range newest {
		switch {
		case h.Refused:
			refused++
		case h.Dated && h.Behind.Abs() > clockOff && (h.Behind-newest[0].Behind).Abs() <= clockEven:
			off++
		}
	}
	text := ""
	switch clockHours {
	case refused:
		text = clockRefused
	case off:
		text = clockText(newest[clockHours-1].Behind)
	default:
		return verdict{}
	}
	return foundAs(home.Finding{Urgency: home.Mention, Onset: newest[0].Hour, OnsetLo: newest[0].Hour, OnsetHi: newest[0].Hour, Text: text})
}

const clockRefused = "The clock of this scale was never set, or runs far ahead. Its readings are kept at the time when they arrive: " +
	"what it sends late stands at the wrong time. Set its clock, or let it send no time at all."

func clockText(behind time.Duration) string {
	way, guess := "behind", ""
	if behind < 0 {
		way = "ahead of"
	}
	size := behind.Abs()
	if size >= clockGrid-clockNearly && (size-size.Round(clockGrid)).Abs() <= clockNearly {
		guess = ", as if it sent local time as UTC"
	}
	words := fmt.Sprintf("%.0f minutes", size.Minutes())
	if size >= 2*time.Hour {
		words = span(size)
	}
	return fmt.Sprintf("The clock of this scale is %s %s the clock of this house%s. Its readings stand at the times that it said, in the wrong order "+
		"beside those of others. Set its clock, or let it send no time at all.", words, way, guess)
}

// Leave closes what stands, for a scale that is no longer in the household.
func (c *ClockWatch) Leave(now time.Time) []home.Transition {
	return c.told(c.wrong.apply(nil, clearAs(home.LeftHousehold), now))
}

func (c *ClockWatch) told(turned []home.Transition) []home.Transition {
	for i := range turned {
		turned[i].Finding.Source = c.scale
	}
	return turned
}

// Stand makes the finding f, told before, stand again.
func (c *ClockWatch) Stand(f home.Finding) { c.wrong.open = &f }
