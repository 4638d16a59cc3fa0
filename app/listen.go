package app

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/ingest"
)

// Listener tells what arrives and how it is understood, for somebody who is
// wiring a scale up. It stores nothing.
type Listener struct {
	router  *ingest.Router
	hearing *ingest.Hearing
}

// Heard is one message, as it came and as it was understood.
type Heard struct {
	Time     time.Time      `json:"time"`
	Topic    string         `json:"topic"`
	Payload  string         `json:"payload"` // shortened, and safe to print
	Bytes    int            `json:"bytes"`
	Retained bool           `json:"retained,omitempty"`
	Readings []HeardReading `json:"readings,omitempty"`
	Why      string         `json:"why_not,omitempty"` // what of it was not understood
	Gap      float64        `json:"gap_s,omitempty"`   // since the last message on the topic
	Rate     float64        `json:"per_s,omitempty"`   // messages a second on the topic of late
}

// HeardReading is one reading of a message.
type HeardReading struct {
	Source   string        `json:"source"`
	Quantity home.Quantity `json:"quantity"`
	Value    float64       `json:"value"`
	Unit     string        `json:"unit"`
	Time     time.Time     `json:"time"`
	Clock    home.Clock    `json:"clock"`
	Note     string        `json:"note,omitempty"`
}

// shownPayload is how much of a payload is shown.
const shownPayload = 120

// NewListener returns a listener that reads payloads as the scales of h say.
func NewListener(h home.Household) (*Listener, error) {
	router, err := ingest.NewRouter(h)
	return &Listener{router: router, hearing: ingest.NewHearing()}, err
}

// Hear takes a message that arrived at now.
func (l *Listener) Hear(topic string, payload []byte, retained bool, now time.Time) Heard {
	d := ingest.Delivery{Way: ingest.WayMQTT, Topic: topic, Payload: payload, Arrived: now.UTC(), Retained: retained}
	readings, reason := l.router.Decode(d)
	m := l.hearing.Hear(d, readings, reason)
	out := Heard{Time: m.Time, Topic: printable(topic), Payload: Printable(payload), Bytes: m.Bytes, Retained: retained,
		Why: printable(m.Why), Gap: m.Gap.Seconds(), Rate: m.PerSecond}
	for _, r := range readings {
		out.Readings = append(out.Readings, HeardReading{r.Source, r.Quantity, r.Value, r.Quantity.Unit(), r.Time, r.Clock, printable(r.Note)})
	}
	return out
}

// Summary is a line for each topic that matches filter: how many messages, how
// often, how many not understood, and the longest gap.
func (l *Listener) Summary(filter string) []string {
	var lines []string
	speakers, all := l.hearing.Speakers(filter)
	for _, s := range speakers {
		every := "once"
		if s.Count > 1 {
			every = fmt.Sprintf("one every %.1f s, longest gap %.1f s", s.Last.Sub(s.First).Seconds()/float64(s.Count-1), s.Longest.Seconds())
		}
		lines = append(lines, fmt.Sprintf("%s: %d messages, %s, %d not understood", printable(s.Topic), s.Count, every, s.Bad))
	}
	if more := all - len(speakers); more > 0 {
		lines = append(lines, fmt.Sprintf("and %d topics more", more))
	}
	return lines
}

func short(payload []byte) string {
	if len(payload) <= shownPayload {
		return string(payload)
	}
	cut := shownPayload
	for cut > 0 && !utf8.RuneStart(payload[cut]) {
		cut--
	}
	return string(payload[:cut]) + " ..."
}

// Printable is the beginning of a stranger's text, safe to print on a terminal.
func Printable(b []byte) string { return printable(short(b)) }

// printable is s without anything that a terminal or a log would obey: a payload
// is a stranger's text.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || !strconv.IsGraphic(r) {
			return '\u00b7'
		}
		return r
	}, s)
}

// Listening is how to connect to a broker only to listen: to the one at the given
// address, or else to the one that the settings name.
func (c Config) Listening(address string) (*paho.ClientOptions, error) {
	opts := paho.NewClientOptions()
	switch {
	case address != "":
		if !strings.Contains(address, "://") {
			address = "tcp://" + address
		}
		return opts.AddBroker(address), nil
	case c.MQTT == nil:
		return opts.AddBroker("tcp://" + c.Broker.Listen.String()), nil
	}
	conf, err := c.MQTT.files().Config()
	if err != nil {
		return nil, err
	}
	password, err := secret(c.MQTT.PasswordFile)
	if err != nil {
		return nil, err
	}
	opts.AddBroker(c.MQTT.Server).SetUsername(c.MQTT.Username).SetPassword(password)
	if conf != nil {
		opts.SetTLSConfig(conf)
	}
	return opts, nil
}
