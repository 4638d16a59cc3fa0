package main

import (
	"fmt"
	"regexp"
	"strconv"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// floodSize is how many messages one round of the flood has: it takes seconds, so that
// how often it is looked whether all came makes no difference.
const floodSize = 100_000

// bareSubscriber receives from the broker at addr and discards, until it is killed. It
// says whenever it has received a round more.
func bareSubscriber(addr string) int {
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("bare"))
	if t := c.Connect(); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		fmt.Println("connect:", t.Error())
		return 1
	}
	var got atomic.Int64
	heard := func(paho.Client, paho.Message) {
		if n := got.Add(1); n%floodSize == 0 {
			fmt.Printf("round %d\n", n/floodSize)
		}
	}
	if t := c.Subscribe("home/#", 1, heard); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		fmt.Println("subscribe:", t.Error())
		return 1
	}
	fmt.Println("subscribed")
	select {}
}

// flooder publishes with QoS 1, at most 500 messages of it unacknowledged.
type flooder struct {
	paho.Client
	last int // second of the reading that was published last
}

func newFlooder(b *testing.B, addr string) *flooder {
	b.Helper()
	c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("scale").SetMessageChannelDepth(1000))
	if t := c.Connect(); !t.WaitTimeout(10*time.Second) || t.Error() != nil {
		b.Fatalf("connect: %v", t.Error())
	}
	b.Cleanup(func() { c.Disconnect(100) })
	return &flooder{Client: c, last: 1_760_000_000}
}

// round publishes a round of new readings.
func (f *flooder) round() {
	room := make(chan struct{}, 500)
	var all sync.WaitGroup
	for range floodSize {
		f.last++
		room <- struct{}{}
		t := f.Publish("home/litter/1", 1, false, fmt.Sprintf(`[{"bn":"box-1:","n":"load","u":"kg","v":9.4,"t":%d}]`, f.last))
		all.Go(func() {
			<-t.Done()
			<-room
		})
	}
	all.Wait()
}

// benchmarkOutside measures from the first publish to when came reports the n-th round.
func benchmarkOutside(b *testing.B, addr string, came func(n int) bool) {
	f := newFlooder(b, addr)
	for n := 1; b.Loop(); n++ {
		f.round()
		for !came(n) {
			<-time.After(10 * time.Millisecond)
		}
	}
	b.ReportMetric(floodSize*float64(b.N)/b.Elapsed().Seconds(), "msg/s")
}

// What a bare subscriber that discards receives from mosquitto, QoS 1: the yardstick of
// the next one.
func BenchmarkOutside_BareSubscriber(b *testing.B) {
	addr := mosquitto(b)
	p := launchWith(b, []string{"WEIGHBEAM_BE_BARE=" + addr}, nil)
	p.says("subscribed")
	benchmarkOutside(b, addr, func(n int) bool {
		_, ok := p.said(fmt.Sprintf("round %d\n", n))
		return ok
	})
	costs(b, p)
}

var receivedOutside = regexp.MustCompile(`(?m)^weighbeam_readings_received_total\{way="mqtt"\} (\S+)$`)

// From mosquitto to disk: QoS 1, acknowledged after the commit, synced in full.
func BenchmarkOutside_ToDisk(b *testing.B) {
	addr := mosquitto(b)
	p, url, _ := serveWith(b, fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\n", addr))
	p.says("connected to the broker")
	benchmarkOutside(b, addr, func(n int) bool {
		_, body := get(url + "/metrics")
		m := receivedOutside.FindStringSubmatch(body)
		if m == nil {
			return false
		}
		got, err := strconv.ParseFloat(m[1], 64)
		return err == nil && got >= float64(n)*floodSize
	})
	costs(b, p)
}

// costs ends p and reports what it took of the machine.
func costs(b *testing.B, p *program) {
	b.Helper()
	p.kill()
	of := p.cmd.ProcessState
	b.ReportMetric(float64((of.UserTime()+of.SystemTime()).Microseconds())/(floodSize*float64(b.N)), "cpu-us/msg")
	if usage, ok := of.SysUsage().(*syscall.Rusage); ok {
		b.ReportMetric(float64(usage.Maxrss)/1024, "peak-MB")
	}
}
