package detect

import (
	"time"

	"weighbeam/home"
)

// noLitterVisit finds a cat that has not been on a litter box for far longer than
// is usual, though it is met elsewhere: by another scale, or by a person. A cat
// that is met nowhere is not-seen. How long is too long is learned like there; no
// published line was found (common teaching: 24 to 48 hours without passing urine
// cannot wait).
type noLitterVisit struct {
	care      *cares
	elsewhere time.Time // when it was met but on a box
	absent    float64   // probability that no visit since it was last on one was the cat's
	box       pauses
	open      bool
}

// stillHere is how long after the last visit the cat must have been met elsewhere.
const stillHere = 12 * time.Hour

func newNoLitterVisit(care *cares) *noLitterVisit {
	return &noLitterVisit{care: care, absent: 1, box: newPauses()}
}

func (n *noLitterVisit) kind() home.Sign { return home.NoLitterVisit }

func (n *noLitterVisit) step(o Observation) verdict {
	switch {
	case o.Box && o.Weighing != nil:
		if n.absent *= 1 - min(max(o.Weighing.Confidence, 0), 1); o.Weighing.Unclear && n.absent > mostAbsent {
			return verdict{}
		}
		n.absent = 1
		n.box.meet(o.Time())
		if n.open {
			n.open = false
			return clearAs(litterVisited)
		}
	case o.Box:
	case o.Care == nil && (o.Weighing == nil || o.Weighing.Source == home.Hand):
		n.elsewhere = o.Time()
	}
	return verdict{}
}

func (n *noLitterVisit) wake(now time.Time) time.Time { return n.box.wake(n.box.met, now) }

func (n *noLitterVisit) tick(now time.Time) verdict {
	gone := now.Sub(n.box.met)
	if n.box.told || n.box.limit == 0 || gone < n.box.limit || n.elsewhere.Sub(n.box.met) < stillHere || n.care.on(home.Away, now, n.box.limit) {
		return verdict{}
	}
	n.open, n.box.told = true, true
	return foundAs(home.Finding{
		Urgency: home.Today, Onset: n.box.met, OnsetLo: n.box.met, OnsetHi: n.box.met, Data: len(n.box.kept),
		Warnings: []string{warnOtherBox}, Text: noLitterText(gone, n.box.limit),
	})
}

func (n *noLitterVisit) outlook(time.Time, *home.Outlook) {}
