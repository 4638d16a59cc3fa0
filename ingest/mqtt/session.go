package mqtt

import (
	"context"
	"crypto/tls"
	"fmt"
	"math/rand/v2"
	"net/url"
	"slices"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/ingest"
)

// Sink takes messages; see [ingest.Appender].
type Sink interface {
	Offer(d ingest.Delivery) bool
}

// Session is one session with one broker.
type Session struct {
	cfg   Config
	tls   *tls.Config
	addr  *url.URL
	sink  Sink
	inbox *inbox

	mu      sync.Mutex
	health  Health
	filters []Filter
	changed chan struct{} // the filters changed
}

// New checks the configuration and reads its files. It connects to nothing.
func New(cfg Config, sink Sink) (*Session, error) {
	cfg = cfg.withDefaults()
	if err := cfg.valid(); err != nil {
		return nil, err
	}
	conf, err := cfg.TLS.Config()
	if err != nil {
		return nil, err
	}
	addr, err := cfg.address()
	if err != nil {
		return nil, err
	}
	return &Session{
		cfg: cfg, tls: conf, addr: addr, sink: sink, inbox: newInbox(cfg.InFlight, cfg.Doubt, sink),
		filters: disjoint(cfg.Filters), changed: make(chan struct{}, 1),
	}, nil
}

// SetFilters changes what is subscribed to, now and after each connect.
func (s *Session) SetFilters(filters []Filter) error {
	if err := validFilters(filters); err != nil {
		return err
	}
	s.mu.Lock()
	s.filters = disjoint(filters)
	s.mu.Unlock()
	select {
	case s.changed <- struct{}{}:
	default: // a change is already to be looked at
	}
	return nil
}

func (s *Session) wanted() []Filter {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.filters)
}

// steady is how long a connection must have held for the next pause to start
// from the floor again. Without it a broker that accepts and drops would be
// met with a connect every floor, for ever.
const steady = 30 * time.Second

// Run keeps the session up until ctx ends, then waits a moment for what is in
// flight to be acknowledged and disconnects. It returns nil.
func (s *Session) Run(ctx context.Context) error {
	go s.inbox.acknowledge()
	defer s.inbox.close()
	for pause := time.Duration(0); ; {
		start := time.Now()
		err := s.connection(ctx)
		if ctx.Err() != nil {
			return nil
		}
		held := time.Since(start)
		if pause = min(max(2*pause, s.cfg.Floor), s.cfg.Cap); held > steady || err == errNoRoom || err == errSilent {
			pause = s.cfg.Floor
		}
		s.down(err, pause)
		select {
		case <-time.After(jitter(pause)):
		case <-ctx.Done():
			return nil
		}
	}
}

// jitter spreads reconnects, so that houses do not all come at once after their
// broker restarted. It never goes below the floor.
func jitter(pause time.Duration) time.Duration {
	return pause + time.Duration(rand.Int64N(int64(pause)/4+1))
}

// connection makes one connection and returns why it ended.
func (s *Session) connection(ctx context.Context) error {
	lost := make(chan error, 1)
	line := s.inbox.line()
	client := paho.NewClient(s.options(ctx, line, lost))
	token := client.Connect()
	select {
	case <-token.Done():
	case <-ctx.Done():
		client.Disconnect(0)
		return ctx.Err()
	}
	if err := token.Error(); err != nil {
		return err
	}
	if err := s.subscribe(client, lost); err != nil {
		client.Disconnect(0)
		return err
	}
	s.up()
	return s.attend(ctx, client, line, lost)
}

// attend waits for the end of a connection and sees to changes of the filters.
func (s *Session) attend(ctx context.Context, client paho.Client, line *line, lost <-chan error) error {
	look := time.NewTicker(200 * time.Millisecond)
	defer look.Stop()
	start := time.Now()
	for {
		select {
		case err := <-lost:
			client.Disconnect(0)
			return err
		case <-look.C:
			if err := s.wantsAnew(line, start); err != nil {
				client.Disconnect(quiesceMS)
				return err
			}
		case <-s.changed:
			if err := s.subscribe(client, lost); err != nil {
				client.Disconnect(0)
				return err
			}
		case <-ctx.Done():
			line.drain()
			client.Disconnect(quiesceMS)
			return ctx.Err()
		}
	}
}

// wantsAnew returns why a connection is to be given up that did not fail, or nil.
func (s *Session) wantsAnew(line *line, start time.Time) error {
	switch {
	case line.wantsAnew():
		return errNoRoom
	case time.Since(start) > s.cfg.Silence && time.Since(line.lastMessage()) > s.cfg.Silence:
		return errSilent
	}
	return nil
}

// quiesceMS is how long a disconnect may wait for what is on its way out.
const quiesceMS = 250

// options for one connection. The client's own reconnecting is off: its pauses
// have no floor when a connection was accepted first.
func (s *Session) options(ctx context.Context, line *line, lost chan<- error) *paho.ClientOptions {
	o := paho.NewClientOptions().
		AddBroker(s.addr.String()).
		SetClientID(s.cfg.ClientID).
		SetUsername(s.cfg.User).
		SetPassword(s.cfg.Password).
		SetProtocolVersion(4).
		SetCleanSession(s.cfg.Clean).
		SetKeepAlive(s.cfg.KeepAlive).
		SetPingTimeout(s.cfg.KeepAlive / 2).
		SetConnectTimeout(10 * time.Second).
		SetWriteTimeout(10 * time.Second).
		SetAutoReconnect(false).
		SetConnectRetry(false).
		SetOrderMatters(true).
		SetAutoAckDisabled(true).
		SetDefaultPublishHandler(line.message). // before the first SUBACK, what was kept arrives
		SetConnectionLostHandler(func(_ paho.Client, err error) {
			lost <- err
		})
	if s.tls != nil {
		o.SetTLSConfig(s.tls)
	}
	if !webSocket(s.addr.Scheme) {
		o.SetCustomOpenConnectionFn(s.dial(ctx))
	}
	if w := s.cfg.Will; w != nil {
		o.SetBinaryWill(w.Topic, w.Payload, w.QoS, w.Retain)
	}
	return o
}

// subscribe asks for every filter and takes leave of those that left.
func (s *Session) subscribe(client paho.Client, lost <-chan error) error {
	wanted := s.wanted()
	known, err := s.remembered()
	if err != nil {
		return err
	}
	// Remembered before it is asked for: a crash in between costs an unsubscribe of
	// what was never subscribed, and not a subscription that nobody remembers.
	if err := s.remember(known, wanted); err != nil {
		return err
	}
	if len(wanted) > 0 {
		ask := map[string]byte{}
		for _, f := range wanted {
			ask[f.Topic] = f.QoS
		}
		token, err := answered(func() paho.Token { return client.SubscribeMultiple(ask, nil) }, lost)
		if err != nil {
			return fmt.Errorf("subscribe: %w", err)
		}
		left, err := refusals(token.(*paho.SubscribeToken).Result(), wanted)
		if err != nil {
			return err
		}
		s.noteRefused(left)
	}
	if left := gone(known, wanted); len(left) > 0 {
		if _, err := answered(func() paho.Token { return client.Unsubscribe(left...) }, lost); err != nil {
			return fmt.Errorf("unsubscribe: %w", err)
		}
	}
	return s.remember(nil, wanted)
}

// refusals are the spare filters that the broker refused; it is an error for another.
func refusals(result map[string]byte, wanted []Filter) (spare []string, err error) {
	for _, f := range wanted {
		switch {
		case result[f.Topic] != refused:
		case f.Spare:
			spare = append(spare, f.Topic)
		default:
			return nil, fmt.Errorf("the broker refuses the subscription to %q", f.Topic)
		}
	}
	return spare, nil
}

func (s *Session) noteRefused(topics []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(topics) > 0 && !slices.Equal(topics, s.health.Refused) {
		s.cfg.Log.Warn("the broker refuses subscriptions", "filters", topics)
	}
	s.health.Refused = topics
}

// refused is the return code of a subscription that failed (MQTT 3.1.1, 3.9.3).
const refused = 0x80

// answered asks and waits for the broker's answer. The client blocks in asking, and
// forgets what was asked, when the connection is lost: so the loss is waited for as
// well, from the start.
func answered(ask func() paho.Token, lost <-chan error) (paho.Token, error) {
	done := make(chan paho.Token, 1)
	go func() {
		t := ask()
		<-t.Done()
		done <- t
	}()
	select {
	case t := <-done:
		return t, t.Error()
	case err := <-lost:
		return nil, err
	case <-time.After(10 * time.Second):
		return nil, fmt.Errorf("the broker does not answer")
	}
}

// gone are the topics known and no longer wanted.
func gone(known []string, wanted []Filter) []string {
	return slices.DeleteFunc(slices.Clone(known), func(t string) bool {
		return slices.ContainsFunc(wanted, func(f Filter) bool { return f.Topic == t })
	})
}
