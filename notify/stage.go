package notify

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// The reasons a notice can carry before it is first tried, as sentences for a
// person. Those with a time are followed by it.
const (
	ReasonNobody   = "Nobody is configured to be told: it is shown on the page only. Add a channel to be told."
	ReasonEased    = "It became less urgent: the page shows it, nobody is disturbed for that."
	ReasonUpdated  = "Only its figures moved: the page shows them."
	ReasonLeast    = "Less urgent than this channel wants to hear"
	ReasonNow      = "To be sent at once."
	ReasonItself   = "It is this channel that does not work: the others tell it."
	ReasonHistory  = "Found while reading past readings: told once, if it still stands."
	ReasonAfter    = "To be sent to a second person if nobody has reacted by"
	ReasonStandIn  = "To be sent if the other channel has not taken it by"
	ReasonDigest   = "Not urgent: folded into the digest of"
	ReasonQuiet    = "Held for quiet hours until"
	ReasonDaily    = "The digest of the day."
	ReasonReminder = "A reminder, if it still stands by then and nobody has reacted."
)

// decision is what the stages say of one notice.
type decision struct {
	state  home.NoticeState
	reason string
	due    time.Time
}

// stage looks at one turn for one channel. It may withhold the notice, move
// when it is due, or leave it as it is. It is pure.
type stage func(p Policy, c Channel, t home.Transition, d decision) decision

// stages in the order they are asked. The first that withholds ends it.
var stages = []stage{byTurn, byItself, byLeast, byHistory, byReaction, byDigest, byQuiet}

func (p Policy) decide(c Channel, t home.Transition, now time.Time) decision {
	d := decision{state: home.Waiting, reason: ReasonNow, due: now}
	for _, s := range stages {
		if d = s(p, c, t, d); d.state == home.Withheld {
			d.due = time.Time{}
			break
		}
	}
	return d
}

// byTurn withholds what is no news that a person must act on.
func byTurn(_ Policy, _ Channel, t home.Transition, d decision) decision {
	switch t.Turn {
	case home.Eased:
		return decision{state: home.Withheld, reason: ReasonEased}
	case home.Updated:
		return decision{state: home.Withheld, reason: ReasonUpdated}
	}
	return d
}

// byItself withholds from a channel that it does not work itself. That it works
// again is told to the others, too, who heard of it.
func byItself(_ Policy, c Channel, t home.Transition, d decision) decision {
	if channel, ok := home.ChannelOf(t.Finding); ok && channel == c.Name {
		return decision{state: home.Withheld, reason: ReasonItself}
	}
	return d
}

// byLeast withholds what is below the channel's least urgency. The end of a
// finding passes: whoever heard of it hears that it is over, and that is known
// only when it is sent.
func byLeast(_ Policy, c Channel, t home.Transition, d decision) decision {
	if t.Turn != home.Closed && t.Finding.Urgency.Rank() < c.Least.Rank() {
		return decision{state: home.Withheld, reason: fmt.Sprintf("%s (%s).", ReasonLeast, c.Least)}
	}
	return d
}

// byHistory lets a turn from the past wait a little, so that a later one from
// the same reading of the past can overtake it.
func byHistory(p Policy, _ Channel, t home.Transition, d decision) decision {
	if d.due.Sub(t.At) > p.late() {
		d.due, d.reason = d.due.Add(p.settle()), ReasonHistory
	}
	return d
}

// byReaction holds what goes to somebody only if others did not do their part.
// That something is over needs no second person.
func byReaction(_ Policy, c Channel, t home.Transition, d decision) decision {
	if c.After == 0 || t.Turn == home.Closed {
		return d
	}
	d.due = d.due.Add(c.After)
	d.reason = ReasonAfter
	if c.For != "" {
		d.reason = ReasonStandIn
	}
	d.reason += " " + stamp(d.due, c.Quiet.Zone) + "."
	return d
}

// byDigest moves what can wait for the next visit, and the end of anything,
// to the channel's digest.
func byDigest(_ Policy, c Channel, t home.Transition, d decision) decision {
	if !c.Digest.On || t.Finding.Urgency.Rank() > home.Mention.Rank() && t.Turn != home.Closed {
		return d
	}
	d.due = c.Digest.Next(d.due).UTC()
	d.reason = ReasonDigest + " " + stamp(d.due, c.Digest.Zone) + "."
	return d
}

// byQuiet holds what can wait until the quiet hours are over. The end of a
// finding can always wait.
func byQuiet(_ Policy, c Channel, t home.Transition, d decision) decision {
	if t.Finding.Urgency.Rank() >= home.Today.Rank() && t.Turn != home.Closed {
		return d
	}
	if end, quiet := c.Quiet.Until(d.due); quiet {
		d.due = end.UTC()
		d.reason = ReasonQuiet + " " + stamp(end, c.Quiet.Zone) + "."
	}
	return d
}

// stamp is an instant as a person reads it.
func stamp(t time.Time, zone *time.Location) string {
	return t.In(zoneOr(zone)).Format("2 Jan 15:04 MST")
}
