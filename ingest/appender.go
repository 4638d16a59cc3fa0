package ingest

import (
	"context"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"weighbeam/home"
)

// Store is where readings go. Append commits all of b or none of it.
type Store interface {
	Append(ctx context.Context, b home.Batch) (home.Tally, error)
}

// Options of an [Appender]. The zero value is what a house needs.
type Options struct {
	Length    int              // deliveries that may wait to be read; 4096
	Bytes     int64            // bytes that may wait or be in hand, as they came; 32 MiB
	Batch     int              // deliveries to a commit at most, and read ahead of it; 2048
	Floor     time.Duration    // first pause after a refusal by the store; 100 ms
	Cap       time.Duration    // longest pause; 10 s
	Drain     time.Duration    // how long Run goes on committing after its context ended; 3 s
	Now       func() time.Time // clock of arrivals; time.Now
	Log       *slog.Logger     // slog.Default
	Hearing   *Hearing         // hears every message; nil: nobody does
	Committed func()           // called after each commit, from the committer; must not block
}

func (o Options) withDefaults() Options {
	def(&o.Length, 4096)
	def(&o.Bytes, 32<<20)
	def(&o.Batch, 2048)
	def(&o.Floor, 100*time.Millisecond)
	def(&o.Cap, 10*time.Second)
	def(&o.Drain, 3*time.Second)
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	if o.Committed == nil {
		o.Committed = func() {}
	}
	return o
}

func def[T comparable](v *T, to T) {
	var zero T
	if *v == zero {
		*v = to
	}
}

// Appender takes deliveries from every way in and commits them in batches with
// one committer: whatever waits when a commit ends is the next batch. It never
// waits for a batch to fill.
type Appender struct {
	store   Store
	decoder Decoder
	opt     Options
	queue   *queue
	stats   *stats
	clocks  *clocks
	held    atomic.Int64 // about what the readings take that are decoded and not settled

	retrying sync.Mutex // one at a time

	stampMu sync.Mutex
	stamped time.Time // the last arrival given out
}

// NewAppender returns an appender that commits nothing until Run is called.
func NewAppender(s Store, d Decoder, opt Options) *Appender {
	opt = opt.withDefaults()
	return &Appender{store: s, decoder: d, opt: opt, queue: newQueue(opt.Length, opt.Bytes), stats: newStats(), clocks: newClocks()}
}

// Deliver hands d over, waiting for room until ctx ends. After nil, d is settled
// once; after an error it was not taken and Settle is not called.
func (a *Appender) Deliver(ctx context.Context, d Delivery) error {
	d = a.stamp(d)
	return a.queue.put(ctx, &d)
}

// Offer hands d over only if there is room now, and reports whether it did.
func (a *Appender) Offer(d Delivery) bool {
	d = a.stamp(d)
	return a.queue.offer(&d)
}

// stamp sets the arrival where the way in did not.
func (a *Appender) stamp(d Delivery) Delivery {
	if d.Arrived.IsZero() {
		d.Arrived = a.Arrival()
	}
	return d
}

// Arrival is the time now by the clock of the house. Arrivals given out differ by
// at least one step, so that two readings of a device without a clock stay two; where
// the clock of the house is set back by more than a second, that is followed.
func (a *Appender) Arrival() time.Time {
	now := a.opt.Now().UTC().Truncate(home.TimeStep)
	a.stampMu.Lock()
	defer a.stampMu.Unlock()
	if behind := a.stamped.Sub(now); behind >= 0 && behind < time.Second {
		now = a.stamped.Add(home.TimeStep)
	}
	a.stamped = now
	return now
}

// Run commits until ctx ends, then for at most Options.Drain what still waits;
// what is left after that is settled with [ErrClosed]. It returns nil.
func (a *Appender) Run(ctx context.Context) error {
	work, stop := a.outlasting(ctx)
	defer stop()
	batches := make(chan []read)
	go a.gather(ctx, batches)
	for batch := range batches {
		a.commit(work, batch)
	}
	return nil
}

// outlasting returns a context that ends Options.Drain after ctx.
func (a *Appender) outlasting(ctx context.Context) (context.Context, context.CancelFunc) {
	work, cancel := context.WithCancel(context.WithoutCancel(ctx))
	stop := context.AfterFunc(ctx, func() {
		select {
		case <-time.After(a.opt.Drain):
			cancel()
		case <-work.Done():
		}
	})
	return work, func() { stop(); cancel() }
}

// settle ends batch with err.
func (a *Appender) settle(batch []read, err error) {
	for _, r := range batch {
		a.queue.settled(r.Delivery)
		a.held.Add(-bytesOf(len(r.readings)))
		if r.Settle != nil {
			r.Settle(err)
		}
	}
}
