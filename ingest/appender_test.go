package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
)

// decoder reads the payload as the words of a test: "ok N" is a reading with the
// sequence number N, "half N" the same and a complaint, anything else a complaint.
type decoder struct{}

func (decoder) Decode(d ingest.Delivery) ([]home.Reading, error) {
	var n int64
	r := func() []home.Reading {
		return []home.Reading{{Source: "box-1", Quantity: home.Load, Time: d.Arrived, Arrived: d.Arrived, Seq: n, Clock: home.ByArrival}}
	}
	text := string(d.Payload)
	if _, err := fmt.Sscanf(text, "ok %d", &n); err == nil {
		return r(), nil
	}
	if _, err := fmt.Sscanf(text, "half %d", &n); err == nil {
		return r(), errors.New("half of it")
	}
	if text == "foreign" {
		return nil, payload.ErrForeign
	}
	return nil, errors.New("not a word of it")
}

// rig runs an appender in a bubble of fake time.
type rig struct {
	*ingest.Appender
	t      *testing.T
	store  *fakeStore
	cancel context.CancelFunc
	done   chan struct{}

	mu      sync.Mutex
	settled []string // payload and error, in order
}

func newRig(t *testing.T, opt ingest.Options) *rig {
	r := &rig{t: t, store: newFakeStore(), done: make(chan struct{})}
	opt.Log = quiet()
	r.Appender = ingest.NewAppender(r.store, decoder{}, opt)
	return r
}

func (r *rig) start() {
	ctx, cancel := context.WithCancel(context.Background())
	r.cancel = cancel
	go func() { r.Run(ctx); close(r.done) }()
}

func (r *rig) delivery(way, text string) ingest.Delivery {
	return ingest.Delivery{Way: way, Topic: "t", Payload: []byte(text), Settle: func(err error) {
		r.mu.Lock()
		defer r.mu.Unlock()
		r.settled = append(r.settled, fmt.Sprint(text, " ", err))
	}}
}

func (r *rig) deliver(texts ...string) {
	r.t.Helper()
	for _, text := range texts {
		if err := r.Deliver(context.Background(), r.delivery("mqtt", text)); err != nil {
			r.t.Fatal(err)
		}
	}
}

func (r *rig) want(lines ...string) {
	r.t.Helper()
	synctest.Wait()
	r.mu.Lock()
	defer r.mu.Unlock()
	if got, want := strings.Join(r.settled, "\n"), strings.Join(lines, "\n"); got != want {
		r.t.Errorf("settled\n%s\nwant\n%s", got, want)
	}
}

// inBubble runs a test in fake time, where a wait of an hour costs nothing.
func inBubble(t *testing.T, opt ingest.Options, test func(t *testing.T, r *rig)) {
	synctest.Test(t, func(t *testing.T) {
		r := newRig(t, opt)
		test(t, r)
		r.cancel()
		<-r.done
	})
}

// Everything that waits when a commit ends is the next batch; nothing waits for a
// batch to fill.
func TestAppender_Run_TakesWhatWaits(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		release := r.store.holding()
		r.start()
		r.deliver("ok 1")
		synctest.Wait() // the committer is in the store with the first
		r.deliver("ok 2", "ok 3", "ok 4")
		r.want()
		release()
		r.want("ok 1 <nil>", "ok 2 <nil>", "ok 3 <nil>", "ok 4 <nil>")
		if got := fmt.Sprint(r.store.batches); got != "[1 3]" {
			t.Errorf("batches %s", got)
		}
	})
}

// A store that refuses is asked again with growing pauses, up to the cap; nothing
// is settled meanwhile, and it heals by itself.
func TestAppender_Run_BacksOff(t *testing.T) {
	inBubble(t, ingest.Options{Floor: time.Second, Cap: 8 * time.Second}, func(t *testing.T, r *rig) {
		r.store.failWith(errFull)
		r.start()
		r.deliver("ok 1")
		time.Sleep(10 * time.Minute)
		// pauses of 1, 2, 4 and then 8 s: about 75 rounds; a round is at most three calls
		if n := r.store.called(); n < 60 || n > 240 {
			t.Errorf("%d calls in ten minutes", n)
		}
		if h := r.Health(); h.Failing != errFull.Error() || h.Oldest < 9*time.Minute || h.Failures == 0 {
			t.Errorf("health %+v", h)
		}
		r.want()
		r.store.failWith(nil)
		time.Sleep(8 * time.Second)
		r.want("ok 1 <nil>")
		if h := r.Health(); h.Failing != "" || h.Oldest != 0 || time.Since(h.LastCommit) > 8*time.Second {
			t.Errorf("health %+v", h)
		}
	})
}

// One delivery that the store will never take must not hold up the others.
func TestAppender_Run_PoisonSetAside(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		r.store.refuse = func(b home.Batch) error {
			for _, reading := range b.Readings {
				if reading.Seq == 2 {
					return fmt.Errorf("%w: constraint failed", home.ErrUnfit)
				}
			}
			return nil
		}
		release := r.store.holding()
		r.start()
		r.deliver("ok 0")
		synctest.Wait()
		r.deliver("ok 1", "ok 2", "ok 3")
		release()
		time.Sleep(time.Second)
		r.want("ok 0 <nil>", "ok 1 <nil>", "ok 2 <nil>", "ok 3 <nil>")
		aside := r.store.setAsides()
		if len(aside) != 1 || string(aside[0].Payload) != "ok 2" || !strings.Contains(aside[0].Reason, "constraint failed") {
			t.Errorf("set aside %+v", aside)
		}
		if c := r.Counts()["mqtt"]; c != (ingest.Counts{Received: 4, Stored: 3, SetAside: 1}) {
			t.Errorf("%+v", c)
		}
	})
}

// A disk with room for a small row and none for a batch is full: the batch is to blame
// for nothing, is not acknowledged, and is stored once there is room.
func TestAppender_Run_RoomForLittle(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		room := false
		r.store.refuse = func(b home.Batch) error {
			if len(b.Readings) > 0 && !room {
				return errFull
			}
			return nil
		}
		r.start()
		r.deliver("ok 1", "ok 2")
		time.Sleep(10 * time.Minute)
		r.want()
		if aside := r.store.setAsides(); len(aside) > 0 {
			t.Errorf("set aside for want of room: %+v", aside)
		}
		r.store.mu.Lock()
		room = true
		r.store.mu.Unlock()
		time.Sleep(time.Minute)
		r.want("ok 1 <nil>", "ok 2 <nil>")
		if c := r.Counts()["mqtt"]; c != (ingest.Counts{Received: 2, Stored: 2}) {
			t.Errorf("%+v", c)
		}
	})
}

func TestAppender_Run_SetsAside(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		release := r.store.holding()
		r.start()
		r.deliver("ok 1")
		synctest.Wait()
		// half a reading is stored, and the payload kept; of what is not watched only
		// the newest of a batch is kept, and every one is counted
		r.deliver("half 2", "nonsense", "foreign", "foreign", "foreign")
		release()
		synctest.Wait()
		if c := r.Counts()["mqtt"]; c != (ingest.Counts{Received: 7, Stored: 2, SetAside: 5}) {
			t.Errorf("%+v", c)
		}
		var kept []string
		for _, s := range r.store.setAsides() {
			kept = append(kept, fmt.Sprint(string(s.Payload), " ", s.Latest))
		}
		if got := strings.Join(kept, ", "); got != "half 2 false, nonsense false, foreign true" {
			t.Errorf("kept %s", got)
		}
	})
}

// Each way is counted for itself, though they share commits' turns.
func TestAppender_Run_WaysApart(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		for i, way := range []string{"mqtt", "http", "mqtt", "broker"} {
			if err := r.Deliver(context.Background(), r.delivery(way, fmt.Sprint("ok ", i))); err != nil {
				t.Fatal(err)
			}
		}
		ready := r.delivery("http", "not looked at")
		ready.Ready = &home.Batch{Readings: []home.Reading{{Source: "a", Quantity: home.Load, Time: time.Now()}},
			SetAside: []home.SetAside{{Reason: "x"}}}
		if !r.Offer(ready) {
			t.Fatal("no room")
		}
		r.start()
		r.want("ok 0 <nil>", "ok 2 <nil>", "ok 1 <nil>", "not looked at <nil>", "ok 3 <nil>")
		want := map[string]ingest.Counts{"mqtt": {Received: 2, Stored: 2}, "http": {Received: 3, Stored: 2, SetAside: 1}, "broker": {Received: 1, Stored: 1}}
		for way, c := range r.Counts() {
			if c != want[way] {
				t.Errorf("%s: %+v, want %+v", way, c, want[way])
			}
		}
	})
}

// Stopping commits what waits; what cannot be committed within the bound is
// refused, not forgotten, and nothing more is taken.
func TestAppender_Run_Drains(t *testing.T) {
	tests := []struct {
		name string
		fail error
		want []string
	}{
		{"in time", nil, []string{"ok 1 <nil>", "ok 2 <nil>"}},
		{"not in time", errFull, []string{"ok 1 the program is stopping", "ok 2 the program is stopping"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			inBubble(t, ingest.Options{Drain: 3 * time.Second}, func(t *testing.T, r *rig) {
				r.store.failWith(tt.fail)
				r.deliver("ok 1", "ok 2")
				r.start()
				r.cancel()
				start := time.Now()
				<-r.done
				if took := time.Since(start); took > 4*time.Second {
					t.Errorf("stopping took %s", took)
				}
				r.want(tt.want...)
				if err := r.Deliver(context.Background(), r.delivery("mqtt", "ok 3")); !errors.Is(err, ingest.ErrClosed) {
					t.Errorf("after the stop: %v", err)
				}
				if r.Offer(r.delivery("mqtt", "ok 3")) {
					t.Error("offered after the stop")
				}
			})
		})
	}
}

// What waits is bounded in number and in bytes, and waiting for room ends with
// the caller's context, with room, or with the stop.
func TestAppender_Deliver_Bounds(t *testing.T) {
	small := ingest.Options{Length: 2, Bytes: 10_000, Batch: 1}
	big := strings.Repeat("x", 6000)
	t.Run("number", func(t *testing.T) {
		inBubble(t, small, func(t *testing.T, r *rig) {
			r.deliver("ok 1", "ok 2")
			ctx, cancel := context.WithTimeout(context.Background(), time.Second)
			defer cancel()
			if err := r.Deliver(ctx, r.delivery("mqtt", "ok 3")); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%v", err)
			}
			if r.Offer(r.delivery("mqtt", "ok 3")) {
				t.Error("offered a third")
			}
			for range 100 { // giving up must give back the bytes
				short, cancel := context.WithTimeout(context.Background(), time.Millisecond)
				if r.Deliver(short, r.delivery("mqtt", "ok 3")) == nil {
					t.Error("delivered a third")
				}
				cancel()
			}
			r.start()
			r.want("ok 1 <nil>", "ok 2 <nil>")
			r.deliver(big) // room again, for as many bytes as ever
		})
	})
	t.Run("bytes", func(t *testing.T) {
		inBubble(t, small, func(t *testing.T, r *rig) {
			release := r.store.holding()
			r.start()
			r.deliver(big)
			synctest.Wait()
			if r.Offer(r.delivery("mqtt", big)) { // the batch in hand counts as well
				t.Error("offered more bytes than may wait")
			}
			if err := r.Deliver(context.Background(), r.delivery("mqtt", big+big)); !errors.Is(err, ingest.ErrTooLong) {
				t.Errorf("%v", err)
			}
			release()
			synctest.Wait()
			if !r.Offer(r.delivery("mqtt", big)) {
				t.Error("no room after the commit")
			}
		})
	})
	t.Run("stop", func(t *testing.T) {
		inBubble(t, small, func(t *testing.T, r *rig) {
			r.store.failWith(errFull)
			r.start()
			for _, text := range []string{"ok 1", "ok 2", "ok 3", "ok 4"} { // one in the store, one read, two waiting
				r.deliver(text)
				synctest.Wait()
			}
			answer := make(chan error)
			go func() { answer <- r.Deliver(context.Background(), r.delivery("mqtt", "ok 5")) }()
			synctest.Wait()
			r.cancel()
			if err := <-answer; !errors.Is(err, ingest.ErrClosed) {
				t.Errorf("%v", err)
			}
		})
	})
}

// Two readings of a device without a clock that come in one instant stay two,
// and a clock of the house that is set back is followed.
func TestAppender_Deliver_Arrivals(t *testing.T) {
	now := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	inBubble(t, ingest.Options{Now: func() time.Time { return now }}, func(t *testing.T, r *rig) {
		r.deliver("ok 0", "ok 0", "ok 0")
		now = now.Add(-time.Hour)
		r.deliver("ok 0", "ok 0")
		r.start()
		synctest.Wait()
		if n := r.store.stored(); n != 5 {
			t.Errorf("%d stored", n)
		}
		for id := range r.store.readings {
			if d := time.UnixMicro(id.time).Sub(now).Abs(); d > time.Millisecond && (d-time.Hour).Abs() > time.Millisecond {
				t.Errorf("dated %s off", d)
			}
		}
	})
}

func TestAppender_Collect(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		r.deliver("ok 1", "nonsense")
		r.start()
		synctest.Wait()
		want := `
# HELP weighbeam_readings_received_total Readings and unreadable payloads taken in and settled; always stored plus duplicate plus set aside.
# TYPE weighbeam_readings_received_total counter
weighbeam_readings_received_total{way="mqtt"} 2
# HELP weighbeam_readings_set_aside_total Payloads that could not be read, kept with the reason.
# TYPE weighbeam_readings_set_aside_total counter
weighbeam_readings_set_aside_total{way="mqtt"} 1
# HELP weighbeam_readings_stored_total Readings written to the store.
# TYPE weighbeam_readings_stored_total counter
weighbeam_readings_stored_total{way="mqtt"} 1
`
		if err := testutil.CollectAndCompare(r.Appender, strings.NewReader(want),
			"weighbeam_readings_received_total", "weighbeam_readings_set_aside_total", "weighbeam_readings_stored_total"); err != nil {
			t.Error(err)
		}
		if problems, err := testutil.CollectAndLint(r.Appender); err != nil || len(problems) > 0 {
			t.Errorf("%v, %v", problems, err)
		}
		var _ prometheus.Collector = r.Appender
	})
}
