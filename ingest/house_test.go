package ingest_test

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// house is a program in small: a store, an appender, a router and one way in.
type house struct {
	t        testing.TB
	store    *fakeStore
	router   *ingest.Router
	appender *ingest.Appender
	url      string // where devices publish
	stop     func()
	session  *mqtt.Session // nil for the broker inside
}

var household = home.Household{Scales: []home.Scale{
	{ID: "box-1", Kind: home.LitterBox, Topic: "home/litter/1"},
	{ID: "box-2", Kind: home.LitterBox, Topic: "home/litter/2/#", Payload: "number"},
}}

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// startAppender runs an appender over the house's store.
func (h *house) startAppender(opt ingest.Options) (stop func()) {
	opt.Log = quiet()
	opt.Floor, opt.Cap = 5*time.Millisecond, 20*time.Millisecond
	h.appender = ingest.NewAppender(h.store, h.router, opt)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { h.appender.Run(ctx); close(done) }()
	return func() { cancel(); <-done }
}

func newHouse(t testing.TB) *house {
	t.Helper()
	router, err := ingest.NewRouter(household)
	if err != nil {
		t.Fatal(err)
	}
	return &house{t: t, store: newFakeStore(), router: router}
}

// outside starts a house that listens to mosquitto.
func outside(t testing.TB, opt ingest.Options) *house {
	m := mqtttest.Start(t)
	h := newHouse(t)
	h.url = m.URL()
	stopAppender := h.startAppender(opt)
	stopSession := h.listenTo(m.URL(), mqtt.Config{})
	h.stop = sync.OnceFunc(func() { stopSession(); stopAppender() })
	t.Cleanup(h.stop)
	return h
}

// listenTo runs a session and waits until it has subscribed.
func (h *house) listenTo(url string, cfg mqtt.Config) (stop func()) {
	h.t.Helper()
	cfg.Broker, cfg.Log, cfg.Floor, cfg.Cap = url, quiet(), 20*time.Millisecond, 100*time.Millisecond
	if cfg.ClientID == "" {
		cfg.ClientID = "weighbeam-test"
	}
	if cfg.Filters == nil {
		cfg.Filters = mqtt.Filters("home/#")
	}
	session, err := mqtt.New(cfg, h.appender)
	if err != nil {
		h.t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { session.Run(ctx); close(done) }()
	h.session = session
	mqtttest.Until(h.t, "the session is up", func() bool { return session.Health().Connected })
	return func() { cancel(); <-done }
}

// inside starts a house with the broker inside.
func inside(t testing.TB, opt ingest.Options) *house {
	h := newHouse(t)
	stopAppender := h.startAppender(opt)
	b, err := broker.Start(broker.Config{Addr: "127.0.0.1:0", Log: quiet()}, h.appender)
	if err != nil {
		t.Fatal(err)
	}
	h.url = "tcp://" + b.Addr()
	h.stop = sync.OnceFunc(func() { b.Close(); stopAppender() })
	t.Cleanup(h.stop)
	return h
}

// eachWay runs a test against both ways in.
func eachWay(t *testing.T, opt ingest.Options, test func(t *testing.T, h *house, way string)) {
	t.Run("broker outside", func(t *testing.T) { test(t, outside(t, opt), ingest.WayMQTT) })
	t.Run("broker inside", func(t *testing.T) { test(t, inside(t, opt), ingest.WayBroker) })
}

// counts fails the test unless received = stored + duplicate + set aside, and
// returns the counts of a way.
func (h *house) counts(way string) ingest.Counts {
	h.t.Helper()
	for w, c := range h.appender.Counts() {
		if c.Received != c.Stored+c.Duplicate+c.SetAside {
			h.t.Fatalf("%s: %+v does not add up", w, c)
		}
	}
	return h.appender.Counts()[way]
}

// reading is SenML with a time and a sequence number, as a good device sends it.
func reading(seq int) string {
	return fmt.Sprintf(`[{"bn":"box-1:","bt":%d,"n":"seq","v":%d},{"n":"load","u":"kg","v":4.5}]`, time.Now().Unix(), seq)
}
