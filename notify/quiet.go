package notify

import (
	"fmt"
	"time"
)

// Clock is a time of day on a wall clock, in minutes after midnight.
type Clock int

// ParseClock reads a time of day as "22:00".
func ParseClock(s string) (Clock, error) {
	t, err := time.Parse("15:04", s)
	if err != nil {
		return 0, fmt.Errorf("%q is no time of day: write it as 07:00 or 22:30", s)
	}
	return Clock(t.Hour()*60 + t.Minute()), nil
}

// String is c as "22:00".
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c/60, c%60) }

// on is the instant at which the wall clock of day y-m-d shows c. Where summer
// time skips c, it is the first instant after the gap; where c comes twice, the
// first of the two: a notice is then early rather than late.
func (c Clock) on(y int, m time.Month, d int, zone *time.Location) time.Time {
	t := time.Date(y, m, d, int(c)/60, int(c)%60, 0, 0, zone)
	if h, min := t.Hour(), t.Minute(); h*60+min != int(c) {
		return gapEnd(t)
	}
	for _, back := range []time.Duration{time.Hour, 30 * time.Minute} { // Lord Howe shifts by half an hour
		if u := t.Add(-back); u.Hour()*60+u.Minute() == int(c) && u.Day() == t.Day() {
			return u
		}
	}
	return t
}

// gapEnd is the instant of the zone change nearest to t: time.Date may place a
// wall time that does not exist on either side of it.
func gapEnd(t time.Time) time.Time {
	start, end := t.ZoneBounds()
	if end.IsZero() || t.Sub(start) < end.Sub(t) {
		return start
	}
	return end
}

// Quiet is a span of hours, each day, in which only what cannot wait is sent.
// It may run over midnight. With From equal to To there is none.
type Quiet struct {
	From, To Clock
	Zone     *time.Location // nil: UTC
}

// Until returns when the quiet hours that t falls in end, and whether it falls in any.
func (q Quiet) Until(t time.Time) (time.Time, bool) {
	if q.From == q.To {
		return time.Time{}, false
	}
	zone := zoneOr(q.Zone)
	y, m, d := t.In(zone).Date()
	for _, first := range []int{d - 1, d} { // a span that began yesterday, or today
		last := first
		if q.To < q.From {
			last++
		}
		from, to := q.From.on(y, m, first, zone), q.To.on(y, m, last, zone)
		if !t.Before(from) && t.Before(to) {
			return to, true
		}
	}
	return time.Time{}, false
}

// Digest is an hour of the day at which small things are told together.
type Digest struct {
	On   bool
	At   Clock
	Zone *time.Location // nil: UTC
}

// Next is the first digest after t.
func (g Digest) Next(t time.Time) time.Time {
	zone := zoneOr(g.Zone)
	y, m, d := t.In(zone).Date()
	for i := 0; ; i++ {
		if at := g.At.on(y, m, d+i, zone); at.After(t) {
			return at
		}
	}
}

func zoneOr(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
}
