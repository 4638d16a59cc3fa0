package demo

import (
	"context"
	"encoding/json"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/simulator"
)

// gather is how much of the house's time goes into one message when the clock
// runs fast, in real time.
const gather = 100 * time.Millisecond

// publish sends what the devices of the house say from when on, as they would,
// until ctx ends.
func publish(ctx context.Context, a *app.App, house *simulator.House, c clock, from time.Time) error {
	client := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + a.BrokerAddr()).SetClientID("demo-devices"))
	if t := client.Connect(); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		return &home.Error{Op: "connect the simulated devices", Hint: "Start the demo again.", Err: t.Error()}
	}
	defer client.Disconnect(250)
	d := devices{client: client, app: a, topics: map[string]string{}, packs: map[string][]record{}}
	for _, s := range house.Household().Scales {
		d.topics[s.ID] = s.Topic
	}
	step := time.Duration(float64(gather) * c.speed)
	next := from.Add(step)
	for r := range house.Live(from) {
		if !r.Time.After(from) {
			continue
		}
		for r.Time.After(next) {
			if err := c.until(ctx, next); err != nil {
				return nil // ended by the person who started it
			}
			if err := d.send(ctx); err != nil {
				return err
			}
			next = next.Add(step)
		}
		d.say(r)
	}
	return nil
}

// devices is what was said and not yet sent.
type devices struct {
	client paho.Client
	app    *app.App
	topics map[string]string
	packs  map[string][]record
	hand   []home.Reading
}

// record is one SenML record (RFC 8428).
type record struct {
	Name  string  `json:"n"`
	Unit  string  `json:"u"`
	Time  float64 `json:"t"`
	Value float64 `json:"v"`
}

func (d *devices) say(r home.Reading) {
	if _, ok := d.topics[r.Source]; !ok {
		d.hand = append(d.hand, r)
		return
	}
	d.packs[r.Source] = append(d.packs[r.Source], record{
		Name: r.Source + ":" + string(r.Quantity), Unit: r.Quantity.Unit(), Time: float64(r.Time.UnixMicro()) / 1e6, Value: r.Value,
	})
}

// send publishes a pack for each scale that spoke, and hands in what people entered.
func (d *devices) send(ctx context.Context) error {
	for source, pack := range d.packs {
		body, err := json.Marshal(pack)
		if err != nil {
			return err
		}
		t := d.client.Publish(d.topics[source], 1, false, body)
		select {
		case <-t.Done():
		case <-ctx.Done():
			return nil
		}
		if t.Error() != nil {
			return &home.Error{Op: "publish as a simulated device", Err: t.Error()}
		}
		delete(d.packs, source)
	}
	if len(d.hand) == 0 {
		return nil
	}
	batch := &home.Batch{Readings: d.hand}
	d.hand = nil
	return d.app.Deliver(ctx, ingest.Delivery{Way: ingest.WayImport, Topic: "demo", Ready: batch})
}
