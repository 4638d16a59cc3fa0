package ingest

import (
	"cmp"
	"slices"
	"sync"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// ClockVerdict is what can be said of a device's clock.
type ClockVerdict string

// The verdicts.
const (
	ClockNone   ClockVerdict = "none"       // the device sends no time
	ClockRight  ClockVerdict = "right"      // within what a person would notice
	ClockOff    ClockVerdict = "off"        // ahead or behind by Offset
	ClockLocal  ClockVerdict = "local-time" // off by whole quarters of an hour: local time sent as UTC
	ClockUnset  ClockVerdict = "unset"      // never set, as after a power cut
	ClockDrifts ClockVerdict = "drifts"     // right now, and going wrong fast
)

// Clock is what is known of the clock of one source.
type Clock struct {
	Source  string
	Verdict ClockVerdict
	Offset  time.Duration // of the device against the house, positive ahead; least seen in the last hour
	PerDay  time.Duration // how much Offset changes a day; 0 until some hours are known
	At      time.Time     // of the last reading
}

const (
	clockNoticed = 30 * time.Second // an offset that is told
	clockGrid    = 15 * time.Minute // civil time is a multiple of it away from UTC
	clockNearly  = 2 * time.Minute  // how near to the grid local time lies
	driftNoticed = 20 * time.Second // a day: ten times what a poor crystal does (200 ppm is 17 s a day)
	driftHours   = 6                // hours needed to speak of a drift
	maxClocks    = 4096             // sources watched
)

// clocks watches the clocks of devices by comparing when a reading says it was
// true with when it arrived. A device that sends late what it kept looks like one
// whose clock is behind, but not for its newest reading: so the least lag of an hour
// counts.
type clocks struct {
	mu  sync.Mutex
	all map[string]*clockState
}

type clockState struct {
	last  time.Time // arrival of the last reading
	kind  home.Clock
	unset bool
	hours []clockHour // oldest first, at most a day
}

// clockHour is one hour in which a device sent times.
type clockHour struct {
	start time.Time
	lag   time.Duration // least
}

func newClocks() *clocks { return &clocks{all: map[string]*clockState{}} }

// observe looks at readings that were just committed.
func (c *clocks) observe(readings []home.Reading) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, r := range readings {
		if r.Retained || r.Clock == home.ByHand {
			continue
		}
		s := c.all[r.Source]
		if s == nil {
			if len(c.all) >= maxClocks {
				continue
			}
			s = &clockState{}
			c.all[r.Source] = s
		}
		s.see(r)
	}
}

func (s *clockState) see(r home.Reading) {
	said, wrong := payload.DeviceSaid(r)
	s.last, s.kind = r.Arrived, r.Clock
	switch {
	case wrong && said.Before(payload.EarliestClock):
		s.unset = true
		return
	case wrong:
		s.kind = home.ByDevice
	case r.Clock == home.ByDevice:
		said = r.Time
	default:
		return
	}
	s.unset = false
	lag, hour := r.Arrived.Sub(said), r.Arrived.Truncate(time.Hour)
	if n := len(s.hours); n > 0 && s.hours[n-1].start.Equal(hour) {
		s.hours[n-1].lag = min(s.hours[n-1].lag, lag)
		return
	}
	s.hours = append(s.hours, clockHour{hour, lag})
	if len(s.hours) > 24 {
		s.hours = s.hours[1:]
	}
}

// clock says what is known.
func (s *clockState) clock(source string) Clock {
	k := Clock{Source: source, Verdict: ClockNone, At: s.last}
	n := len(s.hours)
	switch {
	case s.unset:
		k.Verdict = ClockUnset
		return k
	case s.kind != home.ByDevice || n == 0:
		return k
	}
	k.Offset = -s.hours[n-1].lag
	k.PerDay = s.drift()
	switch size := k.Offset.Abs(); {
	case size >= clockGrid-clockNearly && (size-size.Round(clockGrid)).Abs() <= clockNearly:
		k.Verdict = ClockLocal
	case size > clockNoticed:
		k.Verdict = ClockOff
	case k.PerDay.Abs() > driftNoticed:
		k.Verdict = ClockDrifts
	default:
		k.Verdict = ClockRight
	}
	return k
}

// drift is the median slope over all pairs of hours (Theil and Sen), which one
// late upload does not move.
func (s *clockState) drift() time.Duration {
	if len(s.hours) < driftHours {
		return 0
	}
	var slopes []float64 // of the offset, in days a day
	for i, a := range s.hours {
		for _, b := range s.hours[i+1:] {
			slopes = append(slopes, float64(a.lag-b.lag)/float64(b.start.Sub(a.start)))
		}
	}
	slices.Sort(slopes)
	return time.Duration(slopes[len(slopes)/2] * float64(24*time.Hour))
}

// Clocks returns what is known of each source's clock, by source.
func (a *Appender) Clocks() []Clock {
	a.clocks.mu.Lock()
	defer a.clocks.mu.Unlock()
	all := make([]Clock, 0, len(a.clocks.all))
	for source, s := range a.clocks.all {
		all = append(all, s.clock(source))
	}
	slices.SortFunc(all, func(x, y Clock) int { return cmp.Compare(x.Source, y.Source) })
	return all
}
