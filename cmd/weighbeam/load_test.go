package main

import (
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/store"
)

// device publishes weights with sequence numbers of its own, QoS 1, each once the
// last is acknowledged and a pause is over, until it is stopped.
type device struct {
	source string
	pause  time.Duration
	client paho.Client
	sent   int64
	acked  []int64
	count  atomic.Int64 // acknowledged up to now
	stop   chan struct{}
	done   chan struct{}
}

// devices start publishing to a broker. A broker outside acknowledges faster than
// a slow network carries: there a pause keeps its queue from running over.
func devices(t *testing.T, addr string, n int, pause time.Duration) []*device {
	t.Helper()
	var all []*device
	for i := range n {
		d := &device{source: fmt.Sprintf("box-%d", i+1), pause: pause, stop: make(chan struct{}), done: make(chan struct{})}
		d.client = paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(d.source).SetCleanSession(false).
			SetConnectRetry(true).SetConnectRetryInterval(20 * time.Millisecond).SetMaxReconnectInterval(20 * time.Millisecond))
		if token := d.client.Connect(); !token.WaitTimeout(30*time.Second) || token.Error() != nil {
			t.Fatal(token.Error())
		}
		go d.run()
		t.Cleanup(d.end)
		all = append(all, d)
	}
	return all
}

func (d *device) run() {
	defer close(d.done)
	for {
		d.sent++
		token := d.client.Publish("home/"+d.source, 1, false,
			fmt.Sprintf(`[{"bn":"%s:","n":"weight","u":"kg","v":4.5,"t":%d},{"n":"seq","v":%d}]`, d.source, firstSecond+d.sent, d.sent))
		select {
		case <-token.Done():
			if token.Error() == nil {
				d.acked = append(d.acked, d.sent)
				d.count.Add(1)
			}
		case <-d.stop:
			return
		}
		select {
		case <-d.stop:
			return
		case <-time.After(d.pause):
		}
	}
}

func (d *device) end() {
	select {
	case <-d.stop:
	default:
		close(d.stop)
		<-d.done
		d.client.Disconnect(0)
	}
}

// acknowledged is how many messages all devices have acknowledged.
func acknowledged(all []*device) (n int64) {
	for _, d := range all {
		n += d.count.Load()
	}
	return n
}

// moreAcknowledged waits until n more messages are.
func moreAcknowledged(t *testing.T, all []*device, n int64) {
	t.Helper()
	before := acknowledged(all)
	eventually(t, fmt.Sprintf("%d more messages are acknowledged", n), func() (bool, string) {
		now := acknowledged(all)
		return now >= before+n, fmt.Sprint(now - before)
	})
}

// holdAgainst stops the devices and compares what each knows to be acknowledged
// with the store of a stopped program: each such message is there once.
func holdAgainst(t *testing.T, all []*device, data string) {
	t.Helper()
	for _, d := range all {
		d.end()
	}
	db, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(context.Background()); err != nil {
		t.Error(err)
	}
	acked, stored := 0, 0
	for _, d := range all {
		readings, err := db.Readings(t.Context(), d.source, home.Weight, time.Time{}, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		seen := map[int64]int{}
		for _, r := range readings {
			seen[r.Seq]++
		}
		for _, seq := range d.acked {
			if seen[seq] != 1 {
				t.Errorf("%s: message %d was acknowledged and is stored %d times", d.source, seq, seen[seq])
			}
		}
		acked, stored = acked+len(d.acked), stored+len(readings)
	}
	if acked == 0 {
		t.Error("nothing was acknowledged: the test proves nothing")
	}
	t.Logf("%d acknowledged, %d stored", acked, stored)
}

// memory is what a running program takes of the machine's memory now, in MiB.
func (p *program) memory() float64 {
	p.t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", p.cmd.Process.Pid))
	if err != nil {
		p.t.Fatal(err)
	}
	for line := range strings.Lines(string(text)) {
		if kib, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			n, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(kib), " kB"), 64)
			if err != nil {
				p.t.Fatal(err)
			}
			return n / 1024
		}
	}
	p.t.Fatal("no VmRSS")
	return 0
}

// each runs f for every one at once and waits for all.
func each(n int, f func(i int)) {
	var wg sync.WaitGroup
	for i := range n {
		wg.Go(func() { f(i) })
	}
	wg.Wait()
}
