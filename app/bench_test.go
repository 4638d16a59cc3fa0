package app

import (
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

func benchClient(b *testing.B, addr, id string) paho.Client {
	b.Helper()
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(id).SetMessageChannelDepth(1000))
	if t := c.Connect(); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		b.Fatalf("connect: %v", t.Error())
	}
	b.Cleanup(func() { c.Disconnect(100) })
	return c
}

// second is of the reading that was published last.
var second atomic.Int64

// flood publishes n new readings with QoS 1, at most 500 of them unacknowledged.
func flood(c paho.Client, source string, n int) {
	room := make(chan struct{}, 500)
	var all sync.WaitGroup
	for range n {
		room <- struct{}{}
		t := c.Publish("home/litter/1", 1, false, fmt.Sprintf(`[{"bn":"%s:","n":"load","u":"kg","v":9.4,"t":%d}]`, source, 1_760_000_000+second.Add(1)))
		all.Go(func() {
			<-t.Done()
			<-room
		})
	}
	all.Wait()
}

func benchApp(b *testing.B, settings string) *App {
	b.Helper()
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\n%s", filepath.Join(b.TempDir(), "house.db"), settings))
	if err != nil {
		b.Fatal(err)
	}
	a, err := Start(b.Context(), cfg, Options{Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(a.Stop)
	return a
}

const floodSize = 20_000

// From publish to PUBACK with the broker inside, after the commit, 64 devices.
func BenchmarkInside_PublishToAck(b *testing.B) {
	a := benchApp(b, "[broker]\nlisten = \"127.0.0.1:0\"\n")
	clients := make([]paho.Client, 64)
	for i := range clients {
		clients[i] = benchClient(b, a.BrokerAddr(), fmt.Sprintf("scale-%d", i))
	}
	for b.Loop() {
		var all sync.WaitGroup
		for i, c := range clients {
			all.Go(func() { flood(c, fmt.Sprintf("box-%d", i), floodSize/len(clients)) })
		}
		all.Wait()
	}
	b.ReportMetric(float64(floodSize/64*64)*float64(b.N)/b.Elapsed().Seconds(), "msg/s")
}
