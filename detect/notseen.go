package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// notSeen finds silence: no scale and no person has met the cat for far longer
// than is usual. Only devices make a usual, since a person who forgets to weigh a
// cat has still seen it; anything at all ends the silence. It is told once until
// a device meets the cat again: while only people see it, they know it is there.
type notSeen struct {
	last   time.Time // anything
	device time.Time // when a device last met the cat
	absent float64   // probability that no visit since then was the cat's
	gaps   []time.Duration
	next   int
	limit  time.Duration // 0 until the usual is known
	open   bool
	told   bool // since the device met the cat
}

const (
	leastSilence = 36 * time.Hour
	mostSilence  = 14 * oneDay
	gapsKept     = 200
	gapsNeeded   = 15
	relearnGaps  = 40 // sorting them is dear, and the usual changes slowly
	toldGaps     = 5  // how many a silence that was told counts as: enough to move the limit
	mostAbsent   = 0.05
)

func newNotSeen() *notSeen { return &notSeen{gaps: make([]time.Duration, 0, gapsKept), absent: 1} }

func (n *notSeen) kind() home.Sign { return home.NotSeen }

func (n *notSeen) step(o Observation) verdict {
	at := o.Time()
	m := o.Weighing
	if m != nil && m.Unclear && !n.surely(m.Confidence) {
		return verdict{}
	}
	n.absent = 1
	if at.After(n.last) {
		n.last = at
	}
	if m != nil && m.Source != home.Hand && m.Source != home.Clinic {
		n.meet(at)
	}
	if n.open {
		n.open = false
		return clearAs(notSeenOver)
	}
	return verdict{}
}

// surely takes in a visit that may have been the cat's, and reports whether it is
// now sure enough that one of those since it was last met was.
func (n *notSeen) surely(p float64) bool {
	n.absent *= 1 - min(max(p, 0), 1)
	return n.absent <= mostAbsent
}

// meet learns the gap since the device met the cat before. A silence that was
// told moves the limit, so that one which turns out to be usual is not told
// again and again, but never by more than twice, so that one long absence does
// not blind it.
func (n *notSeen) meet(at time.Time) {
	gap := at.Sub(n.device)
	if gap <= 0 {
		return // delivered twice
	}
	first, told := n.device.IsZero(), n.told
	n.device, n.told = at, false
	switch {
	case first:
	case told:
		for range toldGaps {
			n.learn(min(gap, n.limit))
		}
		n.limit = silence(n.gaps)
	default:
		n.learn(gap)
		if n.limit == 0 || n.next%relearnGaps == 0 {
			n.limit = silence(n.gaps)
		}
	}
}

func (n *notSeen) learn(gap time.Duration) {
	if len(n.gaps) < gapsKept {
		n.gaps = append(n.gaps, gap)
	} else {
		n.gaps[n.next] = gap
	}
	n.next = (n.next + 1) % gapsKept
}

// silence is how long a gap must last to be told: far beyond the longest usual
// one. 0 while too few gaps are known.
func silence(gaps []time.Duration) time.Duration {
	if len(gaps) < gapsNeeded {
		return 0
	}
	var buf [gapsKept]time.Duration
	sorted := append(buf[:0], gaps...)
	slices.Sort(sorted)
	usual := sorted[len(sorted)/2]
	long := sorted[len(sorted)*98/100]
	return min(max(leastSilence, 8*usual, 2*long), mostSilence)
}

func (n *notSeen) tick(now time.Time) verdict {
	if n.told || n.limit == 0 || now.Sub(n.last) < n.limit {
		return verdict{}
	}
	n.open, n.told = true, true
	return foundAs(home.Finding{
		Urgency: home.Today, Onset: n.last, OnsetLo: n.last, OnsetHi: n.last,
		Data:     len(n.gaps),
		Warnings: []string{warnAway}, Text: notSeenText(now.Sub(n.last), n.limit),
	})
}

func (n *notSeen) outlook(now time.Time, out *home.Outlook) {
	if n.limit == 0 {
		out.Unknown = append(out.Unknown, unknownSilence(gapsNeeded-len(n.gaps)))
		return
	}
	out.Learned = append(out.Learned, learnedSilence(n.limit))
}
