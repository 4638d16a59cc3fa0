package detect

import (
	"time"

	"weighbeam/home"
)

// notSeen finds silence: no scale and no person has met the cat for far longer
// than is usual. Only devices make a usual, since a person who forgets to weigh a
// cat has still seen it; anything at all ends the silence. It is told once until
// a device meets the cat again: while only people see it, they know it is there.
// Of a cat that is away, as somebody said, nothing is told.
type notSeen struct {
	care   *cares
	last   time.Time // anything
	absent float64   // probability that no visit since it was last met was the cat's
	device pauses
	open   bool
}

// mostAbsent is how unsure it may be that one of the visits was the cat's.
const mostAbsent = 0.05

func newNotSeen(care *cares) *notSeen { return &notSeen{care: care, absent: 1, device: newPauses()} }

func (n *notSeen) kind() home.Sign { return home.NotSeen }

func (n *notSeen) step(o Observation) verdict {
	m := o.Weighing
	if o.Care != nil || m != nil && m.Unclear && !n.surely(m.Confidence) {
		return verdict{}
	}
	at := o.Time()
	n.absent = 1
	if at.After(n.last) {
		n.last = at
	}
	if m != nil && m.Source != home.Hand && m.Source != home.Clinic {
		n.device.meet(at)
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

func (n *notSeen) wake(now time.Time) time.Time { return n.device.wake(n.last, now) }

func (n *notSeen) tick(now time.Time) verdict {
	if n.device.told || n.device.limit == 0 || now.Sub(n.last) < n.device.limit || n.care.on(home.Away, now, n.device.limit) {
		return verdict{}
	}
	n.open, n.device.told = true, true
	return foundAs(home.Finding{
		Urgency: home.Today, Onset: n.last, OnsetLo: n.last, OnsetHi: n.last,
		Data:     len(n.device.kept),
		Warnings: []string{warnAway}, Text: notSeenText(now.Sub(n.last), n.device.limit),
	})
}

func (n *notSeen) outlook(now time.Time, out *home.Outlook) {
	if n.device.limit == 0 {
		out.Unknown = append(out.Unknown, unknownSilence(pausesNeeded-len(n.device.kept)))
		return
	}
	out.Learned = append(out.Learned, learnedSilence(n.device.limit))
}
