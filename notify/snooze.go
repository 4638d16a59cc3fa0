package notify

import (
	"slices"
	"time"

	"weighbeam/home"
)

// ReasonSnoozeEnds is why a reminder waits for the end of a snooze.
const ReasonSnoozeEnds = "Asked for by a person: a reminder when the snooze ends, if it still stands."

// Snooze is what a snooze changes: for each channel that is reminded at all, one
// reminder at its end. The next that waits is moved there, later ones that would
// fall together with it are withheld, and where none waits there is a new one. notices
// are all those about f; only those that are others then are returned.
func (p Policy) Snooze(f home.Finding, notices []home.Notice, r home.Reaction) (changed []home.Notice) {
	for _, c := range p.Channels {
		if c.After > 0 || f.Urgency.Rank() < c.Least.Rank() {
			continue
		}
		waiting := slices.DeleteFunc(slices.Clone(notices), func(n home.Notice) bool {
			return n.Channel != c.Name || n.Turn != home.Reminded || n.State != home.Waiting || n.Attempts > 0 || n.Urgency != f.Urgency
		})
		slices.SortFunc(waiting, func(a, b home.Notice) int { return a.Due.Compare(b.Due) })
		if len(waiting) == 0 {
			changed = append(changed, p.reminder(c, f, r))
			continue
		}
		waiting[0].Due, waiting[0].Reason, waiting[0].Decided = c.awake(f, r.Until), ReasonSnoozeEnds, r.At
		changed = append(changed, waiting[0])
		for _, n := range waiting[1:] {
			if !n.Due.After(r.Until.Add(12 * time.Hour)) {
				n.State, n.Reason, n.Decided = home.Withheld, ReasonSnoozed, r.At
				changed = append(changed, n)
			}
		}
	}
	return changed
}

// reminder is one for the end of a snooze. The same snooze gives the same id.
func (p Policy) reminder(c Channel, f home.Finding, r home.Reaction) home.Notice {
	n := p.draft(home.Transition{Turn: home.Reminded, At: r.Until, Finding: f}, c.Name, r.At, r.Until)
	n.State, n.Reason, n.Due = home.Waiting, ReasonSnoozeEnds, c.awake(f, r.Until)
	return n
}

// awake is t, or the end of the quiet hours that it falls in.
func (c Channel) awake(f home.Finding, t time.Time) time.Time {
	if end, quiet := c.Quiet.Until(t); quiet && f.Urgency.Rank() < home.Today.Rank() {
		return end.UTC()
	}
	return t
}
