package mqtt_test

import (
	"context"
	"log/slog"
	"slices"
	"sync"
	"testing"
	"time"

	"weighbeam/ingest"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// sink takes deliveries and settles them as a test says.
type sink struct {
	mu   sync.Mutex
	got  []ingest.Delivery
	room int  // how many it still takes; -1 for any number
	keep bool // deliveries wait for settleAll
}

func (s *sink) Offer(d ingest.Delivery) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.room == 0 {
		return false
	}
	if s.room > 0 {
		s.room--
	}
	s.got = append(s.got, d)
	if !s.keep {
		go d.Settle(nil)
	}
	return true
}

func (s *sink) settleAll(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.keep = false
	for _, d := range s.got {
		d.Settle(err)
	}
}

func (s *sink) roomFor(n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.room = n
}

func (s *sink) payloads() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := make([]string, len(s.got))
	for i, d := range s.got {
		all[i] = string(d.Payload)
	}
	return all
}

// resent are the payloads whose sender says that it may have sent them before.
func (s *sink) resent() (all string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, d := range s.got {
		if d.Resent {
			all += string(d.Payload)
		}
	}
	return all
}

// distinct is how many different payloads came.
func (s *sink) distinct() int {
	all := s.payloads()
	slices.Sort(all)
	return len(slices.Compact(all))
}

func config(url string) mqtt.Config {
	return mqtt.Config{
		Broker: url, ClientID: "weighbeam-test", Filters: mqtt.Filters("home/#"),
		Floor: 20 * time.Millisecond, Cap: 100 * time.Millisecond, Log: slog.New(slog.DiscardHandler),
	}
}

// run runs a session until stop is called.
func run(t testing.TB, cfg mqtt.Config, s mqtt.Sink) (session *mqtt.Session, stop func()) {
	t.Helper()
	session, err := mqtt.New(cfg, s)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { session.Run(ctx); close(done) }()
	stop = sync.OnceFunc(func() {
		cancel()
		select {
		case <-done:
		case <-time.After(mqtttest.Patience):
			t.Error("the session does not stop")
		}
	})
	t.Cleanup(stop)
	return session, stop
}

func connected(t testing.TB, s *mqtt.Session) {
	t.Helper()
	mqtttest.Until(t, "the session is up", func() bool { return s.Health().Connected })
}

// memory is what outlasts a session.
type memory struct {
	mu   sync.Mutex
	text []byte
}

func (m *memory) Recall() ([]byte, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.text, nil
}

func (m *memory) Remember(text []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.text = text
	return nil
}
