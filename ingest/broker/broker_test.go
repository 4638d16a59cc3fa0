package broker_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/ingest"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt/mqtttest"
)

// sink settles what it is handed when a test says so.
type sink struct {
	mu      sync.Mutex
	waiting []ingest.Delivery
	got     int
	err     error // what Deliver answers
	auto    bool  // settle at once
}

func (s *sink) Deliver(_ context.Context, d ingest.Delivery) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.err != nil {
		return s.err
	}
	s.got++
	if s.auto {
		d.Settle(nil)
		return nil
	}
	s.waiting = append(s.waiting, d)
	return nil
}

func (s *sink) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.got
}

func (s *sink) settle(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, d := range s.waiting {
		if d.Settle != nil {
			d.Settle(err)
		}
	}
	s.waiting = nil
}

func start(t testing.TB, cfg broker.Config, s broker.Sink) *broker.Broker {
	t.Helper()
	if cfg.Addr == "" {
		cfg.Addr = "127.0.0.1:0"
	}
	cfg.Log = slog.New(slog.DiscardHandler)
	b, err := broker.Start(cfg, s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { b.Close() })
	return b
}

// The acknowledgement follows the commit, for QoS 1 and for QoS 2.
func TestBroker_Publish_AckAfterCommit(t *testing.T) {
	for _, qos := range []byte{1, 2} {
		t.Run(fmt.Sprint(qos), func(t *testing.T) {
			s := &sink{}
			c := mqtttest.Client(t, "tcp://"+start(t, broker.Config{}, s).Addr(), "device")
			token := c.Publish("home/a", qos, false, "1")
			mqtttest.Until(t, "it arrives", func() bool { return s.count() == 1 })
			if token.WaitTimeout(50 * time.Millisecond) {
				t.Fatal("acknowledged before the commit")
			}
			s.settle(nil)
			mqtttest.Wait(t, token)
		})
	}
}

// What is not committed is not acknowledged, and the device is cut off so that it
// comes again: MQTT 3.1.1 lets it send again only on a new connection.
func TestBroker_Publish_NotCommitted(t *testing.T) {
	tests := []struct {
		name string
		sink *sink
		then func(*sink)
	}{
		// the committer refuses
		{"refused", &sink{}, func(s *sink) { s.settle(errors.New("disk full")) }},
		// the committer says nothing in time
		{"late", &sink{}, func(*sink) {}},
		// there is no room at all
		{"no room", &sink{err: ingest.ErrClosed}, func(*sink) {}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			b := start(t, broker.Config{Wait: 100 * time.Millisecond}, tt.sink)
			lost := make(chan error, 1)
			c := mqtttest.Client(t, "tcp://"+b.Addr(), "device", func(o *paho.ClientOptions) {
				o.SetCleanSession(false)
				o.SetConnectionLostHandler(func(_ paho.Client, err error) { lost <- err })
			})
			token := c.Publish("home/a", 1, false, "1")
			if tt.sink.err == nil {
				mqtttest.Until(t, "it arrives", func() bool { return tt.sink.count() == 1 })
			}
			tt.then(tt.sink)
			select {
			case <-lost:
			case <-time.After(mqtttest.Patience):
				t.Fatal("the device is not cut off")
			}
			if mqtttest.Acknowledged(token) {
				t.Error("acknowledged")
			}
			tt.sink.settle(nil) // too late: it must not matter
		})
	}
}

// A device that keeps its session sends what was not acknowledged again by itself, and
// says that it does.
func TestBroker_Publish_ComesAgain(t *testing.T) {
	s := &sink{}
	b := start(t, broker.Config{}, s)
	c := mqtttest.Client(t, "tcp://"+b.Addr(), "device", func(o *paho.ClientOptions) {
		o.SetCleanSession(false).SetAutoReconnect(true).SetMaxReconnectInterval(50 * time.Millisecond)
	})
	token := c.Publish("home/a", 1, false, "1")
	mqtttest.Until(t, "it arrives", func() bool { return s.count() == 1 })
	if s.waiting[0].Resent {
		t.Error("it is new, and taken to be sent again")
	}
	s.settle(errors.New("disk full"))
	mqtttest.Until(t, "it arrives again", func() bool { return s.count() == 2 })
	if !s.waiting[0].Resent {
		t.Error("it is sent again, and taken to be new")
	}
	s.settle(nil)
	mqtttest.Wait(t, token)
}

// One device that waits for its commit holds up no other.
func TestBroker_Publish_DevicesApart(t *testing.T) {
	s := &sink{}
	b := start(t, broker.Config{}, s)
	tokens := make([]paho.Token, 20)
	for i := range tokens {
		tokens[i] = mqtttest.Client(t, "tcp://"+b.Addr(), fmt.Sprint("device", i)).Publish("home/a", 1, false, "1")
	}
	mqtttest.Until(t, "all wait together", func() bool { return s.count() == len(tokens) })
	s.settle(nil)
	for _, token := range tokens {
		mqtttest.Wait(t, token)
	}
}

// The broker passes messages on as brokers do, so that other programs of the
// house can listen.
func TestBroker_PassesOn(t *testing.T) {
	b := start(t, broker.Config{}, &sink{auto: true})
	heard := make(chan string, 1)
	listener := mqtttest.Client(t, "tcp://"+b.Addr(), "listener")
	mqtttest.Wait(t, listener.Subscribe("home/#", 1, func(_ paho.Client, m paho.Message) { heard <- string(m.Payload()) }))
	mqtttest.Wait(t, mqtttest.Client(t, "tcp://"+b.Addr(), "device").Publish("home/a", 1, false, "1"))
	select {
	case got := <-heard:
		if got != "1" {
			t.Errorf("heard %q", got)
		}
	case <-time.After(mqtttest.Patience):
		t.Error("nothing heard")
	}
	mqtttest.Until(t, "two clients are counted", func() bool { return b.Clients() == 2 })
}

// A packet that is too long is not read, and it is told.
func TestBroker_Publish_TooLong(t *testing.T) {
	s := &sink{}
	b := start(t, broker.Config{}, s)
	token := mqtttest.Client(t, "tcp://"+b.Addr(), "device").Publish("home/a", 1, false, make([]byte, 3<<20))
	mqtttest.Until(t, "it is told", func() bool { return s.count() == 1 })
	if mqtttest.Acknowledged(token) {
		t.Error("acknowledged")
	}
	aside := s.waiting[0].Ready.SetAside[0]
	if !strings.Contains(aside.Reason, "longer than 2097152") || aside.Topic != "client device" {
		t.Errorf("%+v", aside)
	}
}

// Closing cuts off a device that waits for its commit, at once.
func TestBroker_Close_WhileWaiting(t *testing.T) {
	s := &sink{}
	b := start(t, broker.Config{Wait: time.Hour}, s)
	token := mqtttest.Client(t, "tcp://"+b.Addr(), "device").Publish("home/a", 1, false, "1")
	mqtttest.Until(t, "it arrives", func() bool { return s.count() == 1 })
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	if token.WaitTimeout(mqtttest.Patience) && token.Error() == nil {
		t.Error("acknowledged")
	}
}

// answered reports how a connection ends, or what its first byte is, within a while.
func answered(c net.Conn, within time.Duration) (byte, error) {
	if err := c.SetReadDeadline(time.Now().Add(within)); err != nil {
		return 0, err
	}
	b := make([]byte, 1)
	_, err := c.Read(b)
	return b[0], err
}

func dial(t *testing.T, b *broker.Broker) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", b.Addr())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// connect is a CONNECT of MQTT 3.1.1 with a clean session, the client id "a" and a
// keep-alive of none.
const connect = "\x10\x0d\x00\x04MQTT\x04\x02\x00\x00\x00\x01a"

// A connection that does not say who it is does not stay; one that did stays, however
// long it is silent.
func TestBroker_Greeting_HasAnEnd(t *testing.T) {
	b := start(t, broker.Config{Greet: time.Second}, &sink{auto: true})
	device := dial(t, b)
	if _, err := device.Write([]byte(connect)); err != nil {
		t.Fatal(err)
	}
	if first, err := answered(device, mqtttest.Patience); err != nil || first != 0x20 {
		t.Fatalf("a device that says who it is hears %x, %v", first, err)
	}
	strangers := map[string]net.Conn{"": dial(t, b), connect[:7]: dial(t, b)}
	for said, stranger := range strangers {
		if _, err := stranger.Write([]byte(said)); err != nil {
			t.Fatal(err)
		}
	}
	for said, stranger := range strangers {
		if _, err := answered(stranger, mqtttest.Patience); errors.Is(err, os.ErrDeadlineExceeded) || err == nil {
			t.Errorf("who said %q: %v", said, err)
		}
	}
	if _, err := device.Write([]byte("\xc0\x00")); err != nil { // PINGREQ
		t.Fatal(err)
	}
	rest := make([]byte, 5) // of the CONNACK three bytes, then PINGRESP
	if err := device.SetReadDeadline(time.Now().Add(mqtttest.Patience)); err != nil {
		t.Fatal(err)
	}
	if _, err := io.ReadFull(device, rest); err != nil || rest[3] != 0xd0 {
		t.Errorf("the device that stayed hears %x, %v", rest, err)
	}
}

// Only so many connections are served at a time; who comes later waits for one to end.
func TestBroker_Connections_AreCounted(t *testing.T) {
	b := start(t, broker.Config{Most: 2}, &sink{auto: true})
	first := dial(t, b)
	if _, err := first.Write([]byte(connect)); err != nil {
		t.Fatal(err)
	}
	if got, err := answered(first, mqtttest.Patience); err != nil || got != 0x20 {
		t.Fatalf("the first hears %x, %v", got, err)
	}
	dial(t, b)
	third := dial(t, b)
	if _, err := third.Write([]byte(connect)); err != nil {
		t.Fatal(err)
	}
	if got, err := answered(third, 50*time.Millisecond); !errors.Is(err, os.ErrDeadlineExceeded) {
		t.Errorf("the third of two hears %x, %v", got, err)
	}
	first.Close()
	if got, err := answered(third, mqtttest.Patience); err != nil || got != 0x20 {
		t.Errorf("after one has gone it hears %x, %v", got, err)
	}
}
