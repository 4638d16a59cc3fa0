package mqtt

import (
	"context"
	"log/slog"
	"slices"
	"time"
)

// Health is how a session stands.
type Health struct {
	Connected   bool
	Since       time.Time // of being connected or not
	LastMessage time.Time // zero for never
	Subscribed  []string  // filters that the broker holds for us
	Refused     []string  // filters that the broker would not take
	InFlight    int       // messages taken and not yet acknowledged
	Left        int64     // messages that found no room and came, or come, again
	Lost        int64     // messages of QoS 0 that found no room and are gone
	Connects    int64     // connections made
	Error       string    // why there is no connection, "" while there is one
}

// Health returns how the session stands.
func (s *Session) Health() Health {
	s.mu.Lock()
	h := s.health
	h.Subscribed, h.Refused = slices.Clone(h.Subscribed), slices.Clone(h.Refused)
	s.mu.Unlock()
	h.InFlight, h.Left, h.Lost = len(s.inbox.slots), s.inbox.left.Load(), s.inbox.lost.Load()
	h.LastMessage = s.inbox.lastMessage()
	return h
}

// lastMessage is when the last message came, the zero time for never.
func (x *inbox) lastMessage() time.Time {
	ns := x.last.Load()
	if ns == 0 {
		return time.Time{}
	}
	return time.Unix(0, ns).UTC()
}

func (s *Session) up() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.health.Connected, s.health.Since, s.health.Error = true, time.Now(), ""
	s.health.Connects++
	s.cfg.Log.Info("connected to the broker", "broker", s.addr.Redacted(), "filters", len(s.filters))
}

// down notes the end of a connection. It is told when it is new, not at each try.
func (s *Session) down(err error, pause time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	news := s.health.Connected || s.health.Error != err.Error()
	if s.health.Connected || s.health.Since.IsZero() {
		s.health.Since = time.Now()
	}
	s.health.Connected, s.health.Error = false, err.Error()
	level := slog.LevelWarn
	if err == errSilent {
		level = slog.LevelInfo // every hour of a quiet house
	}
	if news {
		s.cfg.Log.Log(context.Background(), level, "no connection to the broker, trying again", "broker", s.addr.Redacted(), "err", err, "pause", pause)
	}
}
