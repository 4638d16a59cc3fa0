package mqtt

import (
	"sync"
	"sync/atomic"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/ingest"
)

// inbox bounds what is taken and not yet acknowledged, over all connections of a
// session, and acknowledges on a goroutine of its own: the committer settles and
// goes on, whatever the network does.
type inbox struct {
	sink  Sink
	doubt time.Duration       // see Config.Doubt
	slots chan struct{}       // one for each message in flight
	acks  chan acknowledgment // never full: as long as slots
	last  atomic.Int64        // when the last message came, Unix ns
	left  atomic.Int64        // QoS 1 and 2 that found no room; they come again
	lost  atomic.Int64        // QoS 0 that found no room; they are gone
	done  chan struct{}
	once  sync.Once
}

type acknowledgment struct {
	ack  func() // nil where the message is not acknowledged
	line *line
}

func newInbox(inFlight int, doubt time.Duration, sink Sink) *inbox {
	return &inbox{
		sink: sink, doubt: doubt, slots: make(chan struct{}, inFlight), acks: make(chan acknowledgment, inFlight),
		done: make(chan struct{}),
	}
}

// acknowledge sends acknowledgements in the order of settling, which is the order
// of arrival, until the inbox closes.
func (x *inbox) acknowledge() {
	for {
		select {
		case a := <-x.acks:
			if a.ack != nil {
				a.ack() // on a connection that is gone the client drops it
			}
			<-x.slots
			a.line.flight.Add(-1)
		case <-x.done:
			return
		}
	}
}

func (x *inbox) close() { x.once.Do(func() { close(x.done) }) }

// line is the inbox as one connection sees it.
type line struct {
	*inbox
	began   time.Time
	flight  atomic.Int64
	closing atomic.Bool // nothing more is taken
	missed  atomic.Bool // messages were left that only a new connection brings
	full    atomic.Bool // the last message found no room in time
}

func (x *inbox) line() *line { return &line{inbox: x, began: time.Now()} }

// patience is how long a message may wait for room. Waiting passes the pressure
// back to the broker through TCP, which is the better answer to a short flood; it
// must stay far below the keepalive, because nothing else is read meanwhile.
const patience = 500 * time.Millisecond

// message is the client's handler. It runs on the goroutine that reads the
// connection and must not hold it up.
func (l *line) message(_ paho.Client, m paho.Message) {
	l.last.Store(time.Now().UnixNano())
	if l.take(m) {
		return
	}
	if m.Qos() == 0 {
		l.lost.Add(1)
		return
	}
	l.left.Add(1)
	l.missed.Store(true)
}

// take hands m over, waiting a moment for room unless the message before it
// already waited in vain: waiting for each of many would stop the keepalive.
func (l *line) take(m paho.Message) bool {
	deadline := time.Now().Add(patience)
	for wait := time.Millisecond; ; wait = min(2*wait, 20*time.Millisecond) {
		if l.offer(m) {
			l.full.Store(false)
			return true
		}
		if l.full.Load() || l.closing.Load() || time.Now().After(deadline) {
			l.full.Store(true)
			return false
		}
		time.Sleep(wait)
	}
}

func (l *line) offer(m paho.Message) bool {
	if l.closing.Load() {
		return false
	}
	select {
	case l.slots <- struct{}{}:
	default:
		return false
	}
	l.flight.Add(1)
	ok := l.sink.Offer(ingest.Delivery{
		Way: ingest.WayMQTT, Topic: m.Topic(), Payload: m.Payload(), Retained: m.Retained(), Resent: l.again(m),
		Settle: func(err error) { l.settled(m, err) },
	})
	if !ok {
		l.flight.Add(-1)
		<-l.slots
	}
	return ok
}

// again reports whether m may have come before.
func (l *line) again(m paho.Message) bool {
	return m.Duplicate() || time.Since(l.began) < l.doubt
}

// settled is called by the committer and does not block: acks is as long as slots.
func (l *line) settled(m paho.Message, err error) {
	a := acknowledgment{line: l}
	if err == nil {
		a.ack = m.Ack
	} else {
		l.missed.Store(true)
	}
	l.acks <- a
}

// wantsAnew reports that messages were left and that there is room for them again.
func (l *line) wantsAnew() bool {
	return l.missed.Load() && len(l.slots) <= cap(l.slots)/4
}

// drainFor bounds how long a stop waits for acknowledgements.
const drainFor = 2 * time.Second

// drain takes nothing more and waits until everything in flight is acknowledged.
func (l *line) drain() {
	l.closing.Store(true)
	for end := time.Now().Add(drainFor); l.flight.Load() > 0 && time.Now().Before(end); {
		time.Sleep(5 * time.Millisecond)
	}
}
