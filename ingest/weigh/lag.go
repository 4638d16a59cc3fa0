package weigh

import (
	"time"

	"weighbeam/home"
)

// lag is how far the samples of a scale are behind when they arrive: because it sends
// many at a time, keeps them while the network is away, or has a clock that is slow.
// Until then nobody can know that it was silent.
type lag struct {
	span      time.Time // of arrivals, from here on for lagSpan
	now, past time.Duration
}

// lagSpan is for how long of arrivals the most counts, and once more so long.
const lagSpan = 30 * time.Minute

// mostHeld is for how long the names of all visits wait at most for a scale that is
// behind. One that is further behind is not waited for: its visits come late.
const mostHeld = time.Hour

func (l *lag) arrive(r home.Reading) {
	if age := r.Arrived.Sub(l.span); age >= lagSpan {
		l.past = 0
		if age < 2*lagSpan {
			l.past = l.now
		}
		l.span, l.now = r.Arrived, 0
	}
	l.now = max(l.now, r.Arrived.Sub(r.Time))
}

// most is how far it was behind at most, lately.
func (l *lag) most() time.Duration { return max(l.now, l.past, 0) }
