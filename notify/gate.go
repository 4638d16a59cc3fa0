package notify

import (
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
)

// Facts is what is known about a notice's finding when the notice is due.
type Facts struct {
	Now       time.Time
	Finding   home.Finding    // as it is now
	Siblings  []home.Notice   // every notice about the finding, itself included
	Reactions []home.Reaction // what people said to the finding
}

// The reasons for which a notice that waited is not sent after all.
const (
	ReasonOver      = "It was already over when this was due."
	ReasonPast      = "Found while reading past readings, and already over."
	ReasonOvertaken = "Already told by a later notice."
	ReasonReacted   = "Somebody has reacted."
	ReasonSnoozed   = "Snoozed by a person."
	ReasonTaken     = "Not needed: the other channel took it."
	ReasonUnwanted  = "The other channel was not to hear it either."
	ReasonHeldThere = "The other channel holds it back until later, so this one does too."
	ReasonOrder     = "Waits for an earlier notice about the same."
	ReasonUntold    = "Its beginning was not told here, so its end is not either."
)

// Verdict is what [Gate] says: send it, withhold it for Reason, or, where Until
// is set, hold it for Reason and look again then.
type Verdict struct {
	Send   bool
	Reason string
	Until  time.Time
}

// Asks reports whether [Gate] has to be asked about n before it is sent: n
// waited for something other than its channel, or tells of an end.
func Asks(n home.Notice) bool {
	if n.Finding == "" { // of no finding: a digest
		return false
	}
	return n.Turn == home.Closed || n.Turn == home.Reminded || n.Due.After(n.Created)
}

// Gate decides, when n is due, whether it is still worth sending over c.
// It is asked about what was held: the world may have moved on meanwhile.
func Gate(n home.Notice, c Channel, facts Facts) Verdict {
	switch n.Turn {
	case home.Closed:
		return gateEnd(n, facts)
	case home.Reminded:
		return gateHeld(n, facts)
	}
	if v, decided := gateStandIn(n, c, facts); decided {
		return v
	}
	if overtaken(n, facts.Siblings) {
		return withhold(ReasonOvertaken)
	}
	if n.Attempts > 0 {
		// It may have arrived already, so what follows it, such as the end, is news there.
		return Verdict{Send: true}
	}
	return gateHeld(n, facts)
}

// gateHeld is for a notice that waited by a rule and was never tried.
func gateHeld(n home.Notice, facts Facts) Verdict {
	switch {
	case n.Attempts > 0:
		return Verdict{Send: true}
	case !facts.Finding.Open() && facts.Finding.Closed.Before(n.Created):
		return withhold(ReasonPast)
	case !facts.Finding.Open():
		return withhold(ReasonOver)
	case n.Turn == home.Reminded && (overtaken(n, facts.Siblings) || facts.Finding.Urgency != n.Urgency):
		return withhold(ReasonOvertaken)
	}
	return gateReaction(n, facts)
}

// gateReaction keeps back what somebody has seen to, and lets it wait while it is
// snoozed. What was said to something less urgent than n, or before it was seen again, is
// no answer to n.
func gateReaction(n home.Notice, facts Facts) Verdict {
	var snooze time.Time
	for _, r := range facts.Reactions {
		switch {
		case r.At.Before(n.Created) && (urgencyAt(facts.Siblings, r.At).Rank() < n.Urgency.Rank() || worsenedSince(facts.Siblings, r.At)):
		case r.Kind != home.Snoozed:
			return withhold(ReasonReacted)
		case r.Until.After(snooze):
			snooze = r.Until
		}
	}
	if snooze.After(facts.Now) {
		return Verdict{Until: snooze, Reason: ReasonSnoozed}
	}
	return Verdict{Send: true}
}

// urgencyAt is how urgent the finding was at t, by what its turns owed; "" where
// that is not known. Of two turns read from history at once it is the lesser.
func urgencyAt(siblings []home.Notice, t time.Time) (u home.Urgency) {
	var last time.Time
	for _, s := range siblings {
		news := s.Turn == home.Raised || s.Turn == home.Worsened || s.Turn == home.Eased
		if !news || s.Created.After(t) || s.Created.Before(last) {
			continue
		}
		if s.Created.After(last) || s.Urgency.Rank() < u.Rank() {
			last, u = s.Created, s.Urgency
		}
	}
	return u
}

// worsenedSince reports whether the finding worsened after t.
func worsenedSince(siblings []home.Notice, t time.Time) bool {
	return slices.ContainsFunc(siblings, func(s home.Notice) bool { return s.Turn == home.Worsened && s.Created.After(t) })
}

// gateEnd tells that a finding is over where its beginning was told, after it.
func gateEnd(n home.Notice, facts Facts) Verdict {
	told := false
	for _, s := range facts.Siblings {
		if s.Channel != n.Channel || s.ID == n.ID || s.Turn == home.Closed {
			continue
		}
		told = told || s.State == home.Sent
		if s.State == home.Waiting && (s.Attempts > 0 || !s.Due.After(n.Due)) {
			// Under way or about to be: the end must not arrive before the beginning.
			return Verdict{Until: later(s.Due, n.Due).Add(time.Second), Reason: ReasonOrder}
		}
	}
	if !told {
		return withhold(ReasonUntold)
	}
	return Verdict{Send: true}
}

// overtaken reports whether a later turn of the same finding was told, or waits
// to be, over the same channel.
func overtaken(n home.Notice, siblings []home.Notice) bool {
	for _, s := range siblings {
		news := s.Turn == home.Raised || s.Turn == home.Worsened
		if s.Channel != n.Channel || s.ID == n.ID || !news || !turnedAfter(s, n) {
			continue
		}
		if s.State == home.Sent || s.State == home.Waiting && n.Attempts == 0 {
			return true
		}
	}
	return false
}

// turnedAfter reports whether the turn of s came after that of n. Rows are
// written in the order of the turns, a Worsened always after its Raised.
func turnedAfter(s, n home.Notice) bool {
	if s.Created.Equal(n.Created) {
		return s.Turn == home.Worsened && (n.Turn == home.Raised || n.Turn == home.Reminded && s.Urgency.Rank() > n.Urgency.Rank() || n.Turn == home.Worsened && s.ID > n.ID)
	}
	return s.Created.After(n.Created)
}

// gateStandIn keeps a stand-in back while the channel that it stands in for
// took the same notice, was not to hear it, or holds it by a rule of its own.
func gateStandIn(n home.Notice, c Channel, facts Facts) (v Verdict, decided bool) {
	if channel, ok := home.ChannelOf(facts.Finding); ok && channel == c.For {
		return v, false // that one cannot tell of itself
	}
	for _, s := range facts.Siblings {
		if c.For == "" || s.Channel != c.For || s.Turn != n.Turn || !s.Created.Equal(n.Created) {
			continue
		}
		switch {
		case s.State == home.Sent:
			return withhold(ReasonTaken), true
		case s.State == home.Withheld:
			return withhold(ReasonUnwanted), true
		case s.State == home.Waiting && s.Attempts == 0 && s.Due.After(facts.Now):
			return Verdict{Until: s.Due.Add(c.After), Reason: ReasonHeldThere}, true
		}
	}
	return v, false
}

func withhold(reason string) Verdict { return Verdict{Reason: reason} }

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// String is v for a table.
func (v Verdict) String() string {
	switch {
	case v.Send:
		return "send"
	case !v.Until.IsZero():
		return fmt.Sprintf("look again at %s: %s", v.Until.Format(time.RFC3339), v.Reason)
	}
	return "withhold: " + v.Reason
}
