package ingest_test

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/ingest"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// benchHouse is a house whose store syncs to disk at each commit.
func benchHouse(b *testing.B, opt ingest.Options) (*ingest.Appender, *fileStore) {
	store, err := openFileStore(filepath.Join(b.TempDir(), "readings"))
	if err != nil {
		b.Fatal(err)
	}
	router, err := ingest.NewRouter(household)
	if err != nil {
		b.Fatal(err)
	}
	opt.Log = quiet()
	a := ingest.NewAppender(store, router, opt)
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { a.Run(ctx); close(done) }()
	b.Cleanup(func() { cancel(); <-done })
	return a, store
}

// BenchmarkSession_Backlog fetches a backlog of QoS 1 from mosquitto: with a bare
// client that discards, which is the yardstick, and with a session and an appender
// that commits to a synced file. "of-bare" is how much of the yardstick is reached.
func BenchmarkSession_Backlog(b *testing.B) {
	const n = 20_000
	m := mqtttest.Start(b)
	subscribeKept(b, m, "bare", "ours")
	var bare, ours time.Duration
	for b.Loop() {
		base := int(time.Now().UnixMicro())
		flood(b, m.URL(), n, base)
		bare += drainBare(b, m, n)
		ours += drainOurs(b, m, n)
	}
	b.ReportMetric(float64(b.N)*n/bare.Seconds(), "bare-msg/s")
	b.ReportMetric(float64(b.N)*n/ours.Seconds(), "msg/s")
	b.ReportMetric(bare.Seconds()/ours.Seconds(), "of-bare")
}

// subscribeKept makes kept sessions under the given client ids.
func subscribeKept(b *testing.B, m *mqtttest.Mosquitto, ids ...string) {
	for _, id := range ids {
		c := mqtttest.Client(b, m.URL(), id, func(o *paho.ClientOptions) { o.SetCleanSession(false) })
		mqtttest.Wait(b, c.Subscribe("home/#", 1, nil))
		c.Disconnect(100)
	}
}

// flood publishes n readings of QoS 1 and waits until the broker has them.
func flood(b testing.TB, url string, n, base int) {
	c := mqtttest.Client(b, url, "flood")
	defer c.Disconnect(100)
	tokens := make(chan paho.Token, 500)
	go func() {
		for i := range n {
			tokens <- c.Publish("home/litter/1", 1, false, reading(base+i))
		}
		close(tokens)
	}()
	for token := range tokens {
		mqtttest.Wait(b, token)
	}
}

func drainBare(b *testing.B, m *mqtttest.Mosquitto, n int) time.Duration {
	var got atomic.Int64
	start := time.Now()
	c := mqtttest.Client(b, m.URL(), "bare", func(o *paho.ClientOptions) {
		o.SetCleanSession(false).SetDefaultPublishHandler(func(paho.Client, paho.Message) { got.Add(1) })
	})
	mqtttest.Until(b, "the bare client has all", func() bool { return got.Load() >= int64(n) })
	took := time.Since(start)
	c.Disconnect(200)
	return took
}

func drainOurs(b *testing.B, m *mqtttest.Mosquitto, n int) time.Duration {
	a, store := benchHouse(b, ingest.Options{})
	session, err := mqtt.New(mqtt.Config{Broker: m.URL(), ClientID: "ours", Filters: mqtt.Filters("home/#"), Log: quiet()}, a)
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	start := time.Now()
	done := make(chan struct{})
	go func() { session.Run(ctx); close(done) }()
	mqtttest.Until(b, "all are stored", func() bool { return store.stored() >= n })
	took := time.Since(start)
	cancel()
	<-done
	b.ReportMetric(float64(n)/float64(store.n), "msg/commit")
	return took
}

// BenchmarkBroker_PublishToAck is the broker inside: 64 devices publish and each
// acknowledgement follows a synced commit.
func BenchmarkBroker_PublishToAck(b *testing.B) {
	const devices = 64
	a, store := benchHouse(b, ingest.Options{})
	br, err := broker.Start(broker.Config{Addr: "127.0.0.1:0", Log: quiet()}, a)
	if err != nil {
		b.Fatal(err)
	}
	defer br.Close()
	clients := make([]paho.Client, devices)
	for i := range clients {
		clients[i] = mqtttest.Client(b, "tcp://"+br.Addr(), fmt.Sprint("device", i))
	}
	base := int(time.Now().UnixMicro())
	var next atomic.Int64
	b.ResetTimer()
	var wg sync.WaitGroup
	for _, c := range clients {
		wg.Go(func() {
			for i := next.Add(1); i <= int64(b.N); i = next.Add(1) {
				mqtttest.Wait(b, c.Publish("home/litter/1", 1, false, reading(base+int(i))))
			}
		})
	}
	wg.Wait()
	b.StopTimer()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "msg/s")
	b.ReportMetric(float64(b.N)/float64(store.n), "msg/commit")
}

// BenchmarkFlood_Memory lets many times what can be committed in come in through
// the broker inside, with a store that takes its time, and reports what the heap
// grew by.
func BenchmarkFlood_Memory(b *testing.B) {
	const devices = 16
	h := newHouse(b)
	stop := h.startAppender(ingest.Options{})
	defer stop()
	br, err := broker.Start(broker.Config{Addr: "127.0.0.1:0", Log: quiet(), Wait: time.Minute}, h.appender)
	if err != nil {
		b.Fatal(err)
	}
	defer br.Close()
	before := heap()
	for b.Loop() {
		release := h.store.holding()
		for i := range devices {
			c := mqtttest.Client(b, "tcp://"+br.Addr(), fmt.Sprint("device", i))
			go func() {
				for range 2000 {
					c.Publish("home/litter/1", 0, false, make([]byte, 10_000)) // 320 MB in all
				}
			}()
		}
		mqtttest.Until(b, "the queue is full", func() bool { return h.appender.Health().Queue > 500 })
		<-time.After(time.Second)
		b.ReportMetric(float64(heap()-before)/(1<<20), "heap-MiB")
		release()
	}
}

func heap() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}
