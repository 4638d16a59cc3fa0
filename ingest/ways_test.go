package ingest_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

func TestWays_Stored(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		for i, qos := range []byte{0, 1, 2} {
			mqtttest.Wait(t, c.Publish("home/litter/1", qos, false, reading(i+1)))
		}
		mqtttest.Until(t, "three readings", func() bool { return h.store.stored() == 3 })
		// the same message again, as a device that missed its acknowledgement sends it
		again := reading(3)
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, again))
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, again))
		mqtttest.Until(t, "all counted", func() bool { return h.counts(way).Received == 5 })
		if got := h.counts(way); got.Duplicate < 1 || got.SetAside != 0 {
			t.Errorf("%+v", got)
		}
	})
}

func TestWays_MosquittoPub(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		addr := strings.TrimPrefix(h.url, "tcp://")
		if err := mqtttest.PublishTo(t, addr, "home/litter/2/raw", "4,5"); err != nil {
			t.Fatal(err)
		}
		mqtttest.Until(t, "one reading", func() bool { return h.store.stored() == 1 })
	})
}

// While the store refuses, nothing is acknowledged; when it takes readings again,
// everything is stored, with no restart of anything.
func TestWays_StoreRefuses_Heals(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		h.store.failWith(errFull)
		c := mqtttest.Client(t, h.url, "device")
		for i := range 10 {
			token := c.Publish("home/litter/1", 1, false, reading(i+1))
			if way == ingest.WayMQTT { // mosquitto takes it over; the session must not confirm it
				mqtttest.Wait(t, token)
			}
		}
		mqtttest.Until(t, "several tries", func() bool { return h.store.called() > 5 })
		if h.store.stored() != 0 || h.counts(way).Received != 0 {
			t.Error("something was counted that is not stored")
		}
		if h.appender.Health().Failing == "" {
			t.Error("health does not tell")
		}
		h.store.failWith(nil)
		mqtttest.Until(t, "all stored", func() bool { return h.store.stored() == 10 })
		mqtttest.Until(t, "health is well", func() bool { return h.appender.Health().Failing == "" })
	})
}

// Ten times what may be in flight of payloads that cannot be read, then a good
// one: each bad one frees its place (a bug that others had).
func TestWays_UnreadableThenGood(t *testing.T) {
	eachWay(t, ingest.Options{Length: 64}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		const bad = 640
		var last paho.Token
		for i := range bad {
			last = c.Publish("home/litter/1", 1, false, fmt.Sprintf("no reading %d", i))
		}
		mqtttest.Wait(t, last)
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, reading(1)))
		mqtttest.Until(t, "the good one", func() bool { return h.store.stored() == 1 })
		mqtttest.Until(t, "all counted", func() bool { return h.counts(way).SetAside >= bad })
		for _, s := range h.store.setAsides() {
			if s.Reason == "" || s.Topic != "home/litter/1" || s.Way != way || len(s.Payload) == 0 {
				t.Fatalf("set aside as %+v", s)
			}
		}
	})
}

func TestWays_LongPayloads(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		good := reading(1)
		// a payload of exactly what is read, one of a byte more, one of bytes that mean nothing
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, good+strings.Repeat(" ", 1<<20-len(good))))
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, good+strings.Repeat(" ", 1<<20-len(good)+1)))
		mqtttest.Wait(t, c.Publish("home/litter/1", 1, false, strings.Repeat("\x00", 1<<20)))
		mqtttest.Until(t, "all counted", func() bool { return h.counts(way).Received == 3 })
		if got := h.counts(way); got.Stored != 1 || got.SetAside != 2 {
			t.Errorf("%+v", got)
		}
		for _, s := range h.store.setAsides() {
			if len(s.Reason) > 300 || len(s.Payload) > 1<<20 {
				t.Errorf("a reason of %d and a payload of %d bytes", len(s.Reason), len(s.Payload))
			}
		}
	})
}

func TestWays_UnclaimedTopics(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		// SenML that names its source needs no claim
		mqtttest.Wait(t, c.Publish("home/new", 1, false, `[{"n":"box-9:load","u":"kg","v":4}]`))
		mqtttest.Until(t, "one reading", func() bool { return h.store.stored() == 1 })
		mqtttest.Wait(t, c.Publish("home/new", 1, false, "4.5"))
		mqtttest.Until(t, "set aside", func() bool { return h.counts(way).SetAside == 1 })
		if s := h.store.setAsides()[0]; !s.Latest || s.Reason != ingest.ErrUnclaimed.Error() {
			t.Errorf("%+v", s)
		}
		// claimed later, without a restart
		with := household
		with.Scales = append(with.Scales[:2:2], home.Scale{ID: "box-3", Kind: home.Floor, Topic: "home/new", Payload: "number"})
		if err := h.router.SetHousehold(with); err != nil {
			t.Fatal(err)
		}
		mqtttest.Wait(t, c.Publish("home/new", 1, false, "4.5"))
		mqtttest.Until(t, "read", func() bool { return h.store.stored() == 2 })
	})
}

// A topic as long as MQTT has them.
func TestWays_LongTopic(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		topic := "home/" + strings.Repeat("x", 65535-len("home/"))
		mqtttest.Wait(t, c.Publish(topic, 1, false, "4.5"))
		mqtttest.Until(t, "set aside", func() bool { return h.counts(way).SetAside == 1 })
		if got := h.store.setAsides()[0].Topic; got != topic {
			t.Errorf("a topic of %d bytes", len(got))
		}
	})
}

func TestWays_ManyTopics(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		const topics = 10_000
		var last paho.Token
		for i := range topics {
			last = c.Publish(fmt.Sprintf("home/t/%d", i), 1, false, "4.5")
		}
		mqtttest.Wait(t, last)
		mqtttest.Until(t, "all counted", func() bool { return h.counts(way).Received == topics })
	})
}

// The counts add up at every moment that a test looks, while messages of every
// kind come in and the store fails now and then.
func TestWays_CountsAddUp(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		go func() {
			for i := range 600 {
				body := reading(1 + i%300)
				if i%3 == 0 {
					body = "no reading"
				}
				c.Publish("home/litter/1", 1, false, body)
			}
		}()
		for i := 0; h.counts(way).Received < 600; i++ {
			if i%50 == 0 {
				h.store.failWith(errFull)
			} else {
				h.store.failWith(nil)
			}
			h.counts(way)
			<-time.After(time.Millisecond)
			if i > 20_000 {
				t.Fatalf("%+v", h.counts(way))
			}
		}
	})
}

// Stopping under load: it ends soon, and what was acknowledged to a device is
// stored, or still with the broker outside and stored by the next start.
func TestWays_StopUnderLoad(t *testing.T) {
	eachWay(t, ingest.Options{}, func(t *testing.T, h *house, way string) {
		c := mqtttest.Client(t, h.url, "device")
		var mu sync.Mutex
		var acked []int
		stopped := make(chan struct{})
		done := make(chan struct{})
		go func() {
			defer close(done)
			for seq := 1; ; seq++ {
				token := c.Publish("home/litter/1", 1, false, reading(seq))
				select {
				case <-token.Done():
				case <-stopped:
				case <-time.After(mqtttest.Patience):
				}
				if !mqtttest.Acknowledged(token) {
					return
				}
				mu.Lock()
				acked = append(acked, seq)
				mu.Unlock()
				select {
				case <-stopped:
					return
				default:
				}
			}
		}()
		mqtttest.Until(t, "it is under way", func() bool { return h.store.stored() > 200 })
		start := time.Now()
		h.stop()
		if took := time.Since(start); took > 5*time.Second {
			t.Errorf("stopping took %s", took)
		}
		close(stopped)
		<-done
		if way == ingest.WayMQTT {
			t.Cleanup(h.startAppender(ingest.Options{}))
			t.Cleanup(h.listenTo(h.url, mqtt.Config{}))
		}
		for _, seq := range acked {
			mqtttest.Until(t, fmt.Sprintf("%d is stored", seq), func() bool { return h.store.has(int64(seq)) })
		}
	})
}

// The HTTP way in, end to end: answered after the commit, counted like the others.
func TestWays_HTTP(t *testing.T) {
	h := newHouse(t)
	t.Cleanup(h.startAppender(ingest.Options{}))
	handler, err := httpapi.New(httpapi.Config{}, h.appender, h.router, nil)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(handler)
	defer server.Close()
	for i, tt := range []struct {
		body   string
		status int
	}{{reading(1), 200}, {reading(2), 200}, {"no reading", 422}} {
		resp, err := http.Post(server.URL+httpapi.Path, "application/senml+json", strings.NewReader(tt.body))
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if got := h.counts(ingest.WayHTTP).Received; resp.StatusCode != tt.status || got != int64(i+1) {
			t.Errorf("%d: status %d, %d counted", i, resp.StatusCode, got)
		}
	}
	if got := h.counts(ingest.WayHTTP); got.Stored != 2 || got.SetAside != 1 {
		t.Errorf("%+v", got)
	}
}
