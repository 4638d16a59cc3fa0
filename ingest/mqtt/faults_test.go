package mqtt_test

import (
	"errors"
	"fmt"
	"io"
	"net"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// The broker is not there when the program starts, and comes later.
func TestSession_Run_BrokerAbsent(t *testing.T) {
	m := mqtttest.Configure(t)
	s := &sink{room: -1}
	session, _ := run(t, config(m.URL()), s)
	mqtttest.Until(t, "an error is told", func() bool { return session.Health().Error != "" })
	m.Start()
	connected(t, session)
	if err := m.Publish("home/a", "1"); err != nil {
		t.Fatal(err)
	}
	mqtttest.Until(t, "the message", func() bool { return s.distinct() == 1 })
}

// A broker that accepts, even greets, and drops must not be hammered.
func TestSession_Run_AcceptedThenDropped(t *testing.T) {
	for _, greeting := range []string{"", "\x20\x02\x00\x00"} { // nothing, and a CONNACK
		t.Run(fmt.Sprintf("%d bytes", len(greeting)), func(t *testing.T) {
			l, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				t.Fatal(err)
			}
			defer l.Close()
			var connects atomic.Int64
			go func() {
				for {
					conn, err := l.Accept()
					if err != nil {
						return
					}
					connects.Add(1)
					io.WriteString(conn, greeting)
					conn.Close()
				}
			}()
			cfg := config("tcp://" + l.Addr().String())
			cfg.Floor, cfg.Cap = 100*time.Millisecond, 400*time.Millisecond
			cfg.Memory = &memory{}
			start := time.Now()
			run(t, cfg, &sink{})
			mqtttest.Until(t, "several connects", func() bool { return connects.Load() >= 5 })
			// pauses of 100, 200, 400 and 400 ms lie between five connects
			if took := time.Since(start); took < time.Second {
				t.Errorf("five connects within %s", took)
			}
			if greeting == "" {
				return
			}
			// what is about to be asked for is remembered before the broker answers: should
			// the program die now, the next one knows of it
			mqtttest.Until(t, "the filters are remembered", func() bool {
				text, err := cfg.Memory.Recall()
				return err == nil && string(text) == `["home/#"]`
			})
		})
	}
}

// Connections that came and went leave nothing behind.
func TestSession_Run_LeavesNothing(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	var connects atomic.Int64
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			connects.Add(1)
			io.WriteString(conn, "\x20\x02\x00\x00") // a CONNACK
			conn.Close()
		}
	}()
	cfg := config("tcp://" + l.Addr().String())
	cfg.Floor, cfg.Cap = time.Millisecond, time.Millisecond
	before := runtime.NumGoroutine()
	_, stop := run(t, cfg, &sink{})
	mqtttest.Until(t, "many connects", func() bool { return connects.Load() >= 100 })
	stop()
	mqtttest.Until(t, "all goroutines to end", func() bool { return runtime.NumGoroutine() <= before+2 })
}

// After a restart of the broker that lost its sessions, the subscriptions are
// made anew.
func TestSession_Run_BrokerRestarted(t *testing.T) {
	m := mqtttest.Start(t, "persistence false")
	s := &sink{room: -1}
	session, _ := run(t, config(m.URL()), s)
	connected(t, session)
	for i := range 3 {
		m.Kill()
		mqtttest.Until(t, "the loss is noticed", func() bool { return !session.Health().Connected })
		m.Start()
		connected(t, session)
		if err := m.Publish("home/a", fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
		mqtttest.Until(t, "the message", func() bool { return s.distinct() == i+1 })
	}
}

// What is not settled when the program is gone is delivered to the next one, in
// order, and known to have been sent before; what was settled is not.
func TestSession_Run_RedeliversUnsettled(t *testing.T) {
	m := mqtttest.Start(t)
	first := &sink{room: -1}
	session, stop := run(t, config(m.URL()), first)
	connected(t, session)
	publish := func(from, to int) {
		t.Helper()
		for i := from; i < to; i++ {
			if err := m.Publish("home/a", fmt.Sprint(i)); err != nil {
				t.Fatal(err)
			}
		}
	}
	publish(0, 3)
	mqtttest.Until(t, "three settled", func() bool { return first.distinct() == 3 && session.Health().InFlight == 0 })
	first.mu.Lock()
	first.keep = true
	first.mu.Unlock()
	publish(3, 8)
	mqtttest.Until(t, "five more taken", func() bool { return first.distinct() == 8 })
	stop()
	publish(8, 10) // while nobody listens

	second := &sink{room: -1}
	trusting := config(m.URL())
	trusting.Doubt = time.Nanosecond // only what the broker says came before did
	session, _ = run(t, trusting, second)
	connected(t, session)
	mqtttest.Until(t, "seven come", func() bool { return second.distinct() == 7 })
	if got := strings.Join(second.payloads(), ""); got != "3456789" {
		t.Errorf("got %s", got)
	}
	if got := first.resent() + "/" + second.resent(); got != "01234567/34567" {
		t.Errorf("resent are %s", got)
	}
	// settling through the first session now must not confirm anything of the second
	first.settleAll(nil)
	if got := second.distinct(); got != 7 {
		t.Errorf("%d", got)
	}
}

// Messages that find no room are left to the broker and fetched again: none is
// lost, and the connection does not die of it.
func TestSession_Run_NoRoomThenRoom(t *testing.T) {
	m := mqtttest.Start(t)
	s := &sink{room: 3}
	session, _ := run(t, config(m.URL()), s)
	connected(t, session)
	for i := range 30 {
		if err := m.Publish("home/a", fmt.Sprint(i)); err != nil {
			t.Fatal(err)
		}
	}
	mqtttest.Until(t, "some are left", func() bool { return session.Health().Left > 0 })
	s.roomFor(-1)
	mqtttest.Until(t, "all come", func() bool { return s.distinct() == 30 })
	if lost := session.Health().Lost; lost != 0 {
		t.Errorf("%d lost", lost)
	}
}

// Messages of QoS 0 that find no room are gone: counted, and without holding up
// the connection for each.
func TestSession_Run_NoRoomQoS0(t *testing.T) {
	m := mqtttest.Start(t)
	s := &sink{room: 0}
	cfg := config(m.URL())
	cfg.KeepAlive = time.Second
	session, _ := run(t, cfg, s)
	connected(t, session)
	c := mqtttest.Client(t, m.URL(), "device")
	for i := range 200 {
		mqtttest.Wait(t, c.Publish("home/a", 0, false, fmt.Sprint(i)))
	}
	mqtttest.Until(t, "all are counted", func() bool { return session.Health().Lost == 200 })
	s.roomFor(-1)
	mqtttest.Wait(t, c.Publish("home/a", 0, false, "room"))
	mqtttest.Until(t, "the next one", func() bool { return s.distinct() == 1 })
	if h := session.Health(); h.Connects != 1 || h.Left != 0 {
		t.Errorf("%+v", h)
	}
}

// A connection that is well and brings nothing is replaced, in case the broker
// has lost the subscriptions.
func TestSession_Run_Silent(t *testing.T) {
	m := mqtttest.Start(t)
	cfg := config(m.URL())
	cfg.Silence = 300 * time.Millisecond
	session, _ := run(t, cfg, &sink{room: -1})
	mqtttest.Until(t, "a second connection", func() bool { return session.Health().Connects >= 2 })
	connected(t, session)
}

// A refusal by the committer, too, makes the message come again.
func TestSession_Run_SettledWithError(t *testing.T) {
	m := mqtttest.Start(t)
	s := &sink{room: -1, keep: true}
	session, _ := run(t, config(m.URL()), s)
	connected(t, session)
	if err := m.Publish("home/a", "1"); err != nil {
		t.Fatal(err)
	}
	mqtttest.Until(t, "it came", func() bool { return len(s.payloads()) == 1 })
	s.settleAll(errors.New("disk full"))
	mqtttest.Until(t, "it comes again", func() bool { return len(s.payloads()) == 2 })
}

// A connection that is open and dead is found out and replaced.
func TestSession_Run_HalfOpen(t *testing.T) {
	m := mqtttest.Start(t)
	p := mqtttest.NewPipe(t, m.Addr())
	cfg := config("tcp://" + p.Addr())
	cfg.KeepAlive = time.Second
	s := &sink{room: -1}
	session, _ := run(t, cfg, s)
	connected(t, session)
	p.Freeze(true)
	if err := m.Publish("home/a", "1"); err != nil {
		t.Fatal(err)
	}
	mqtttest.Until(t, "the dead connection is noticed", func() bool { return !session.Health().Connected })
	p.Freeze(false)
	connected(t, session)
	mqtttest.Until(t, "the message", func() bool { return s.distinct() == 1 })
}

// A slow network costs time and nothing else.
func TestSession_Run_SlowNetwork(t *testing.T) {
	m := mqtttest.Start(t)
	p := mqtttest.NewPipe(t, m.Addr())
	p.Slow(5 * time.Millisecond)
	s := &sink{room: -1}
	session, _ := run(t, config("tcp://"+p.Addr()), s)
	connected(t, session)
	for i := range 100 {
		c := mqtttest.Client(t, m.URL(), fmt.Sprint("device", i%2))
		mqtttest.Wait(t, c.Publish("home/a", 1, false, fmt.Sprint(i)))
		c.Disconnect(100)
	}
	mqtttest.Until(t, "all", func() bool { return s.distinct() == 100 })
	mqtttest.Until(t, "all acknowledged", func() bool { return session.Health().InFlight == 0 })
	if h := session.Health(); h.Connects != 1 || h.Left != 0 {
		t.Errorf("%+v", h)
	}
}

// The will is published when the program is gone without a word, and not when it
// leaves in good order.
func TestSession_Run_Will(t *testing.T) {
	m := mqtttest.Start(t)
	p := mqtttest.NewPipe(t, m.Addr())
	cfg := config("tcp://" + p.Addr())
	cfg.ClientID, cfg.Will = "leaving", &mqtt.Will{Topic: "home/will", Payload: []byte("gone"), QoS: 1}
	watch := &sink{room: -1}
	watcher, _ := run(t, config(m.URL()), watch)
	connected(t, watcher)

	session, stop := run(t, cfg, &sink{room: -1})
	connected(t, session)
	stop()
	if got := watch.distinct(); got != 0 {
		t.Errorf("%d wills after leaving in good order", got)
	}
	cfg.KeepAlive = time.Second // mosquitto waits one and a half of it
	session, _ = run(t, cfg, &sink{room: -1})
	connected(t, session)
	p.Freeze(true)
	mqtttest.Until(t, "the will", func() bool { return watch.distinct() == 1 })
}
