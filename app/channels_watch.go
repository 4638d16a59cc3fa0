package app

import (
	"context"
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// channelWatch raises a finding about a channel that takes no notices, so that
// the others tell it, and closes it when the channel takes something again: that
// nothing was due over it closes nothing.
type channelWatch struct {
	app  *App
	none bool // the store has no open finding about a channel
}

// failsFor is how long a channel takes nothing before that is a finding. An urgent
// notice that had to be given up is one at once. It is a choice of this program:
// longer than a receiver is restarted, shorter than anything but now can wait.
const failsFor = time.Hour

// run looks at the channels from time to time until ctx ends.
func (c *channelWatch) run(ctx context.Context) {
	failing := false
	for ctx.Err() == nil {
		err := c.round(ctx)
		if err != nil && !failing && ctx.Err() == nil {
			c.app.opt.Log.Error("the channels are not watched", "err", err, "hint", home.Hint(err))
		}
		failing = err != nil
		pause(ctx, c.app.idle()/2)
	}
}

// round commits what turned since the last one, with the notices that it owes.
func (c *channelWatch) round(ctx context.Context) error {
	if c.app.untold.Swap(false) {
		if err := c.app.retell(ctx, *c.app.house.Load()); err != nil {
			c.app.untold.Store(true)
			return err
		}
	}
	health := c.app.told().sender.Health().Channels
	if c.none && !slices.ContainsFunc(health, func(h notify.ChannelHealth) bool { return !h.Well() }) {
		return nil
	}
	now := c.app.opt.Now().UTC().Truncate(home.TimeStep)
	open, err := c.app.store.Findings(ctx, true, time.Time{})
	if err != nil {
		return err
	}
	known := map[string]home.Finding{}
	for _, f := range open {
		if name, ok := home.ChannelOf(f); ok {
			known[name] = f
		}
	}
	c.none = len(known) == 0
	d := home.Decision{Cursor: home.Cursor{Name: "channels", Tick: now}}
	for _, h := range health {
		f, isOpen := known[h.Channel]
		delete(known, h.Channel)
		if t, turned := channelTurn(h, f, isOpen, now); turned {
			d.Turns = append(d.Turns, t)
		}
	}
	for _, f := range known {
		d.Turns = append(d.Turns, closed(f, "The channel is no longer in the settings.", now))
	}
	if len(d.Turns) == 0 {
		return nil
	}
	for _, t := range d.Turns {
		d.Notices = append(d.Notices, c.app.owed(t, now)...)
	}
	c.none = false
	if err := c.app.store.Decide(ctx, d); err != nil {
		return err
	}
	c.app.told().sender.Wake()
	return nil
}

// channelTurn says what turned for one channel: f is its finding, where one is open.
func channelTurn(h notify.ChannelHealth, f home.Finding, isOpen bool, now time.Time) (home.Transition, bool) {
	switch {
	case isOpen && h.Well() && h.Took.After(f.Raised):
		return closed(f, "It took a message again.", now), true
	case isOpen && h.Lost && f.Urgency.Rank() < home.Today.Rank():
		f.Urgency, f.Updated, f.Text = home.Today, now, channelText(h)
		return home.Transition{Turn: home.Worsened, At: now, Finding: f}, true
	case isOpen || h.Well() || !h.Lost && now.Sub(h.Since) < failsFor:
		return home.Transition{}, false
	}
	f = home.Finding{Source: home.ChannelSource(h.Channel), Sign: home.ChannelFailing, Urgency: home.Book,
		Raised: now, Updated: now, Onset: h.Since, Text: channelText(h)}
	if h.Lost {
		f.Urgency = home.Today
	}
	return home.Transition{Turn: home.Raised, At: now, Finding: f}, true
}

func closed(f home.Finding, reason string, now time.Time) home.Transition {
	f.Closed, f.Updated, f.Reason = now, now, reason
	return home.Transition{Turn: home.Closed, At: now, Finding: f}
}

func channelText(h notify.ChannelHealth) string {
	text := fmt.Sprintf("It takes no notices: %s.", h.Why)
	if h.Lost {
		text += " An urgent notice had to be given up."
	}
	return text
}
