package ingest_test

import (
	"context"
	"fmt"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
)

// What is committed while each is tried alone is not tried, and counted, once more
// because the store stumbles at a later one.
func TestAppender_Run_PoisonAndRefusal(t *testing.T) {
	poison := func(r *rig, stumbles int) {
		r.store.refuse = func(b home.Batch) error {
			switch seq := seqs(b); {
			case slices.Contains(seq, 2):
				return fmt.Errorf("%w: constraint failed", home.ErrUnfit)
			case slices.Contains(seq, 3) && stumbles > 0:
				stumbles--
				return errFull
			}
			return nil
		}
		r.deliver("ok 1", "ok 2", "ok 3")
		r.start()
	}
	t.Run("passing", func(t *testing.T) {
		inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
			poison(r, 2)
			time.Sleep(time.Minute)
			r.want("ok 1 <nil>", "ok 2 <nil>", "ok 3 <nil>")
			if c := r.Counts()["mqtt"]; c != (ingest.Counts{Received: 3, Stored: 2, SetAside: 1}) {
				t.Errorf("%+v", c)
			}
		})
	})
	// Where the program stops before the store has healed, what is committed is acknowledged.
	t.Run("until the stop", func(t *testing.T) {
		inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
			poison(r, 1_000_000)
			time.Sleep(time.Minute)
			r.want()
			r.cancel()
			<-r.done
			r.want("ok 1 <nil>", "ok 2 <nil>", "ok 3 the program is stopping")
		})
	})
}

func seqs(b home.Batch) (list []int64) {
	for _, r := range b.Readings {
		list = append(list, r.Seq)
	}
	return list
}

// Whoever waits for readings hears which of its own are refused, also where the same
// commit holds those of others, and where the whole delivery does not fit.
func TestAppender_Run_TellsWhatIsRefused(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		r.store.refuse = func(b home.Batch) error {
			if slices.Contains(seqs(b), 13) {
				return fmt.Errorf("%w: constraint failed", home.ErrUnfit)
			}
			return nil
		}
		now := time.Now()
		heard := map[string]map[int]string{}
		put := func(name string, seqs ...int64) {
			told := map[int]string{}
			heard[name] = told
			b := &home.Batch{Refused: func(i int, why string) { told[i] = why }}
			for _, seq := range seqs {
				b.Readings = append(b.Readings, home.Reading{Source: "box-1", Quantity: home.Load, Time: now, Seq: seq % 100, Value: float64(seq)})
			}
			if err := r.Deliver(context.Background(), ingest.Delivery{Way: "http", Ready: b}); err != nil {
				t.Fatal(err)
			}
		}
		put("first", 1, 2, 3)
		r.deliver("ok 50")
		put("second", 4, 101, 5, 102)
		put("third", 6, 7, 103)
		if err := r.Deliver(context.Background(), ingest.Delivery{Way: "http", Ready: &home.Batch{Readings: []home.Reading{{Source: "x", Value: 1}}}}); err != nil {
			t.Fatal(err) // nobody waits for this one
		}
		put("fourth", 104, 8)
		r.start()
		synctest.Wait()
		put("unfit", 9, 13)
		time.Sleep(time.Second)
		synctest.Wait()
		const want = "map[first:map[] fourth:map[0:it said 4] second:map[1:it said 1 3:it said 2] third:map[2:it said 3] " +
			"unfit:map[0:the store refused it: it does not fit into the store: constraint failed 1:the store refused it: it does not fit into the store: constraint failed]]"
		if got := fmt.Sprint(heard); got != want {
			t.Errorf("heard\n%s\nwant\n%s", got, want)
		}
	})
}

// packs reads each payload as 1,000 readings, and counts how many it has read.
type packs struct{ read atomic.Int64 }

func (p *packs) Decode(d ingest.Delivery) ([]home.Reading, error) {
	all := make([]home.Reading, 1000)
	for i := range all {
		all[i] = home.Reading{Source: "box-1", Quantity: home.Load, Time: d.Arrived, Seq: int64(i), Clock: home.ByArrival}
	}
	p.read.Add(1)
	return all, nil
}

// While the store is stuck, small payloads that hold much are not all read ahead: what
// they decode to takes far more room than they do. Afterwards all are stored.
func TestAppender_Run_HoldsFewReadings(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &packs{}
		store := newFakeStore()
		a := ingest.NewAppender(store, p, ingest.Options{Bytes: 4 << 20, Log: quiet()})
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		go func() { a.Run(ctx); close(done) }()
		for round := range int64(2) { // what is settled gives its room back
			release := store.holding()
			for range 50 {
				if err := a.Deliver(ctx, ingest.Delivery{Way: "mqtt", Payload: []byte("x")}); err != nil {
					t.Fatal(err)
				}
				synctest.Wait()
			}
			// 4,000 readings take about a quarter of what may wait
			if n := p.read.Load() - round*50; n != 5 {
				t.Errorf("%d of 50 payloads were read while the first was not stored", n)
			}
			release()
			synctest.Wait()
			if n := store.stored(); int64(n) != (round+1)*50_000 {
				t.Errorf("%d stored", n)
			}
		}
		cancel()
		<-done
	})
}

// What a store that took nothing for a while takes at last was stored then, not when it
// arrived.
func TestAppender_Run_SaysWhenItIsStored(t *testing.T) {
	inBubble(t, ingest.Options{}, func(t *testing.T, r *rig) {
		arrived := time.Now()
		var stored time.Time
		r.store.refuse = func(b home.Batch) error {
			if stored = b.Stored; stored.Before(arrived.Add(time.Minute)) {
				return errFull
			}
			return nil
		}
		r.deliver("ok 1")
		r.start()
		time.Sleep(10 * time.Minute)
		r.want("ok 1 <nil>")
		if late := stored.Sub(arrived); late < time.Minute || late > 10*time.Minute {
			t.Errorf("stored %v after it arrived", late)
		}
	})
}
