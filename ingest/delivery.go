package ingest

import (
	"time"

	"weighbeam/home"
)

// The ways in, as they are counted and as set-aside payloads name them.
const (
	WayMQTT   = "mqtt"   // a broker outside
	WayBroker = "broker" // the broker inside
	WayHTTP   = "http"
	WayImport = home.Imported
	WayRetry  = "retry" // set aside earlier and tried again; only a name to count by
)

// Delivery is one message on its way into the store.
type Delivery struct {
	Way      string
	Topic    string // MQTT topic, URL path, or file and line
	Payload  []byte // not changed after the hand-over
	Arrived  time.Time
	Retained bool // a copy that a broker kept
	Resent   bool // it may have come before: the DUP flag of MQTT, or a connection that has just begun

	// Ready, where not nil, is what Payload was already decoded to: it is appended as
	// it is and no decoder is asked.
	Ready *home.Batch

	// Again, where not 0, is the number under which this was set aside: where it can be
	// read now, that is settled in the commit of its readings.
	Again int64

	// Settle is called once: with nil when what was delivered is committed, with an
	// error when it will not be. It is called from the committer and must not block.
	Settle func(error)
}

// Decoder turns a delivery into readings. It returns the readings it understood,
// each valid, and an error for what it did not; either may be empty. The error
// is what a person reads as the reason why the payload was set aside.
type Decoder interface {
	Decode(d Delivery) ([]home.Reading, error)
}

// counted is the way that d is counted under.
func (d Delivery) counted() string {
	if d.Again != 0 {
		return WayRetry
	}
	return d.Way
}

// size is what d takes of the bytes that may wait: its text and a share for the
// structures around it.
func (d Delivery) size() int64 {
	n := int64(len(d.Topic) + len(d.Payload) + 256)
	if d.Ready != nil {
		n += bytesOf(len(d.Ready.Readings))
	}
	return n
}
