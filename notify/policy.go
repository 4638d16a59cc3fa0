package notify

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// Page is the name of the channel that a notice has where nobody is configured:
// it is shown on the pages and goes nowhere else.
const Page = "page"

// Policy is who hears what, and when.
type Policy struct {
	House     home.Household
	Channels  []Channel
	Words     Words
	Reminders Reminders     // nil: a finding is told once and never repeated
	Reply     Reply         // nil: a notice has no link to answer it by
	Late      time.Duration // a turn older than this comes from history; 0: DefaultLate
	Settle    time.Duration // how long a turn from history waits for a later one to overtake it; 0: DefaultSettle
}

// Reply returns the link by which a notice about a finding, sent over a channel
// and due at due, can be answered. The same arguments give the same link.
type Reply func(finding, channel string, due time.Time) string

// Defaults of a Policy.
const (
	DefaultLate   = 24 * time.Hour
	DefaultSettle = 10 * time.Second
)

// Reminders is, for each urgency, how long after a turn that raised it a person
// is reminded while the finding stands and nobody has reacted.
type Reminders map[home.Urgency][]time.Duration

const day = 24 * time.Hour

// UsualReminders has pauses that grow, so that a finding which is known and
// cannot be helped does not nag. The figures are a choice of this program.
func UsualReminders() Reminders {
	return Reminders{
		home.Book:  {7 * day, 21 * day, 49 * day},
		home.Today: {1 * day, 3 * day, 7 * day, 21 * day},
		home.Now:   {1 * time.Hour, 6 * time.Hour, 1 * day, 3 * day},
	}
}

// Channel is one way to reach one person, and what that person wants to hear.
// The zero value of each rule is no rule.
type Channel struct {
	Name   string        // a slug
	Least  home.Urgency  // anything below stays on the page; "": everything is told
	Quiet  Quiet         // hours in which only Today and Now come through
	Digest Digest        // hour at which notices of Mention are told together
	After  time.Duration // a second person: told only if nobody has reacted for so long
	For    string        // a stand-in: told only what the channel of that name has not taken after After
	Chart  bool          // wants the chart of what a notice is about; for transports that can carry a picture
}

// Valid returns nil if c can be used, or what is wrong with it.
func (c Channel) Valid() error {
	if err := home.ValidID("channel", c.Name); err != nil {
		return err
	}
	switch {
	case c.Name == Page:
		return fmt.Errorf("channel %q: the name is taken by the pages, choose another", c.Name)
	case c.Least != "" && c.Least.Rank() == 0:
		return fmt.Errorf("channel %q: least urgency is mention, book, today or now, not %q", c.Name, c.Least)
	case c.After < 0:
		return fmt.Errorf("channel %q: the time to wait for a reaction is negative", c.Name)
	case c.For == c.Name:
		return fmt.Errorf("channel %q cannot stand in for itself", c.Name)
	case c.For != "" && c.After == 0:
		return fmt.Errorf("channel %q stands in for %q: say after how long", c.Name, c.For)
	}
	return nil
}

// Valid returns nil if p can be used, or what is wrong with it.
func (p Policy) Valid() error {
	seen := map[string]bool{}
	for _, c := range p.Channels {
		if err := c.Valid(); err != nil {
			return err
		}
		if seen[c.Name] {
			return fmt.Errorf("channel %q is there twice", c.Name)
		}
		seen[c.Name] = true
	}
	for _, c := range p.Channels {
		if c.For != "" && !seen[c.For] {
			return fmt.Errorf("channel %q stands in for %q, which is no channel", c.Name, c.For)
		}
	}
	return nil
}

func (p Policy) late() time.Duration {
	if p.Late > 0 {
		return p.Late
	}
	return DefaultLate
}

func (p Policy) settle() time.Duration {
	if p.Settle > 0 {
		return p.Settle
	}
	return DefaultSettle
}
