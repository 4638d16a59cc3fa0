package app

import (
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// benchBroker starts mosquitto for a benchmark.
func benchBroker(b *testing.B) string {
	b.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		b.Skip("SKIPPED: mosquitto is not installed (apt-get install mosquitto)")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	_, port, _ := net.SplitHostPort(addr)
	conf := filepath.Join(b.TempDir(), "mosquitto.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, "listener %s 127.0.0.1\nallow_anonymous true\nmax_queued_messages 1000000\nuser root\n", port), 0o600); err != nil {
		b.Fatal(err)
	}
	cmd := exec.Command(path, "-c", conf)
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	for deadline := time.Now().Add(10 * time.Second); time.Now().Before(deadline); <-time.After(10 * time.Millisecond) {
		if c, err := net.Dial("tcp", addr); err == nil {
			c.Close()
			return addr
		}
	}
	b.Fatal("mosquitto does not answer")
	return ""
}

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

// What a bare subscriber that discards receives: the yardstick of the next one.
func BenchmarkOutside_BareSubscriber(b *testing.B) {
	addr := benchBroker(b)
	var got atomic.Int64
	sub := benchClient(b, addr, "bare")
	if t := sub.Subscribe("home/#", 1, func(paho.Client, paho.Message) { got.Add(1) }); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		b.Fatal(t.Error())
	}
	pub := benchClient(b, addr, "scale")
	for b.Loop() {
		before := got.Load()
		flood(pub, "box-1", floodSize)
		for got.Load()-before < floodSize {
			<-time.After(time.Millisecond)
		}
	}
	b.ReportMetric(floodSize*float64(b.N)/b.Elapsed().Seconds(), "msg/s")
}

// From mosquitto to disk: QoS 1, acknowledged after the commit, synced in full.
func BenchmarkOutside_ToDisk(b *testing.B) {
	addr := benchBroker(b)
	a := benchApp(b, fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\n", addr))
	for !a.session.Health().Connected || len(a.session.Health().Subscribed) == 0 {
		<-time.After(5 * time.Millisecond)
	}
	pub := benchClient(b, addr, "scale")
	for b.Loop() {
		before := a.appender.Counts()["mqtt"].Received
		flood(pub, "box-1", floodSize)
		for a.appender.Counts()["mqtt"].Received-before < floodSize {
			<-time.After(time.Millisecond)
		}
	}
	b.ReportMetric(floodSize*float64(b.N)/b.Elapsed().Seconds(), "msg/s")
}

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
