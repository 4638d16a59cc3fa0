package notify

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// Health is how sending goes, for /healthz, the metrics and the pages.
type Health struct {
	Channels []ChannelHealth // by name
	Lag      time.Duration   // since the longest due notice that waits was due
	Looked   time.Time       // when it last began to look for what is due, or was made, by the machine's clock
	Store    string          // why the store could not be asked last time, "" if it could
}

// ChannelHealth is how one channel fares now: all of it is over once the channel takes
// something. How many notices ended how is counted in the store.
type ChannelHealth struct {
	Channel string
	Took    time.Time // when it last took something; zero for never
	Failed  time.Time // when it last did not; zero for never
	Since   time.Time // the first failure since it last took something; zero for none
	Why     string    // why it did not, without secrets
	InARow  int       // failures since it last took something
	GivenUp int       // notices given up since it last took something
	Lost    bool      // an urgent one was among them
	Waiting int       // notices that are due over it
}

// Well reports whether the channel took the last thing it was given.
func (c ChannelHealth) Well() bool { return c.InARow == 0 }

// MaxLag is how long a due notice may wait before that is a problem.
const MaxLag = 2 * time.Minute

// Problems says, in full sentences without secrets, what keeps notices from
// people; nil if nothing does.
func (h Health) Problems() []string {
	var all []string
	if h.Store != "" {
		all = append(all, "Notices wait because the store cannot be used.")
	}
	for _, c := range h.Channels {
		if !c.Well() {
			all = append(all, fmt.Sprintf("The channel %s has failed %d %s in a row: %s.", c.Channel, c.InARow, plural(c.InARow, "time", "times"), c.Why))
		}
		if c.GivenUp > 0 {
			all = append(all, fmt.Sprintf("%d %s over the channel %s had to be given up.", c.GivenUp, plural(c.GivenUp, "notice", "notices"), c.Channel))
		}
	}
	if h.Lag > MaxLag {
		all = append(all, fmt.Sprintf("A notice has been due for %s.", h.Lag.Round(time.Second)))
	}
	return all
}

// Health returns how sending goes now.
func (s *Sender) Health() Health {
	s.mu.Lock()
	h := s.health
	h.Channels = slices.Clone(h.Channels)
	s.mu.Unlock()
	for _, name := range slices.Sorted(maps.Keys(s.lanes)) {
		c := at(&h, name)
		c.Waiting = s.lanes[name].held()
	}
	slices.SortFunc(h.Channels, func(a, b ChannelHealth) int { return strings.Compare(a.Channel, b.Channel) })
	return h
}

// at returns the entry of channel in h, made if need be.
func at(h *Health, channel string) *ChannelHealth {
	i := slices.IndexFunc(h.Channels, func(c ChannelHealth) bool { return c.Channel == channel })
	if i < 0 {
		h.Channels = append(h.Channels, ChannelHealth{Channel: channel})
		i = len(h.Channels) - 1
	}
	return &h.Channels[i]
}

func (s *Sender) note(channel string, change func(*ChannelHealth)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(at(&s.health, channel))
}

// noteTook returns for how long the channel had taken nothing while it was tried.
func (s *Sender) noteTook(channel string, now time.Time) (failed time.Duration) {
	s.note(channel, func(c *ChannelHealth) {
		if !c.Since.IsZero() {
			failed = now.Sub(c.Since)
		}
		c.Took, c.Since, c.InARow, c.GivenUp, c.Lost = now, time.Time{}, 0, 0, false
	})
	return failed
}

func (s *Sender) noteFailed(channel, why string, now time.Time) {
	s.note(channel, func(c *ChannelHealth) {
		if c.InARow == 0 {
			c.Since = now
		}
		c.Failed, c.Why, c.InARow = now, why, c.InARow+1
	})
}

// recall takes in what was remembered of the channels that there still are.
func (s *Sender) recall(known []home.ChannelRecord) {
	for _, r := range known {
		if _, ok := s.lanes[r.Channel]; ok {
			s.note(r.Channel, func(c *ChannelHealth) {
				c.Took, c.Failed, c.Since, c.Why = r.Took, r.Failed, r.Since, r.Why
				if !r.Since.IsZero() {
					c.InARow = 1 // at least
				}
			})
		}
	}
}

// remember keeps how a channel fares now. That it cannot be kept holds nothing up.
func (s *Sender) remember(ctx context.Context, channel string) {
	if s.opts.Remember == nil {
		return
	}
	var r home.ChannelRecord
	s.note(channel, func(c *ChannelHealth) {
		r = home.ChannelRecord{Channel: channel, Took: c.Took, Failed: c.Failed, Since: c.Since, Why: c.Why}
	})
	if err := s.opts.Remember(context.WithoutCancel(ctx), r); err != nil {
		s.opts.Log.Warn("how a channel fares could not be kept", "channel", channel, "err", err)
	}
}

func (s *Sender) noteGivenUp(n home.Notice) {
	s.note(n.Channel, func(c *ChannelHealth) { c.GivenUp, c.Lost = c.GivenUp+1, c.Lost || urgent(n) })
}

func (s *Sender) noteStore(op string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.health.Store = op + ": " + err.Error()
}

// noteLook notes that the sender is at work.
func (s *Sender) noteLook(at time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.health.Looked = at
}

// noteDue notes that the store answered, and with what.
func (s *Sender) noteDue(due []home.Notice, now time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.health.Store, s.health.Lag = "", 0
	if len(due) > 0 {
		s.health.Lag = now.Sub(due[0].Due)
	}
}
