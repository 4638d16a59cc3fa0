// Package topic hands a message to other things in the house, as JSON on an MQTT
// topic. Who keeps the connection to the broker lends its publish function.
package topic

import (
	"context"
	"encoding/json"
	"errors"
	"strings"

	"weighbeam/home"
	"weighbeam/notify"
)

// Publish publishes payload on topic with QoS 1 and returns when the broker has
// acknowledged it, or ctx ends. The message must not be retained: who connects
// next year must not be told that the cat is unwell.
type Publish func(ctx context.Context, topic string, payload []byte) error

// Topic is a [notify.Transport].
type Topic struct {
	topic   string
	publish Publish
}

// New returns a transport to that topic, which must have no wildcard.
func New(topic string, publish Publish) (*Topic, error) {
	if topic == "" || len(topic) > 65535 || strings.ContainsAny(topic, "+#\x00") {
		return nil, home.Hinted("set up a topic", "Write a topic without + and #, as home/cats/notices.", "%q is no topic to publish on", topic)
	}
	return &Topic{topic: topic, publish: publish}, nil
}

// Send publishes m. It returns nil only after the broker acknowledged it.
func (t *Topic) Send(ctx context.Context, m notify.Message) error {
	payload, err := json.Marshal(m)
	if err != nil {
		return notify.Refused("the message cannot be written as JSON")
	}
	err = t.publish(ctx, t.topic, payload)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, context.DeadlineExceeded) || ctx.Err() != nil:
		return notify.Unreached("the broker did not acknowledge it in time")
	}
	return notify.Unreached("the broker did not take it")
}
