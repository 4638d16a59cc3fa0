package ingest

import (
	"context"
	"errors"
	"sync"

	"golang.org/x/sync/semaphore"
)

// ErrClosed is what a delivery is refused or settled with when the appender stops.
var ErrClosed = errors.New("the program is stopping")

// ErrTooLong refuses a delivery that is longer than all that may wait.
var ErrTooLong = errors.New("the message is longer than all that may wait")

// queue holds deliveries in order, bounded in number by its channel and in bytes
// by a weighted semaphore. The bytes are given back when a delivery is settled, not
// when it is taken, so the bound covers the batch in hand as well.
type queue struct {
	items chan *Delivery // pointers: a queue that is empty takes little
	bytes *semaphore.Weighted
	most  int64

	ctx  context.Context // ends when the queue closes
	end  context.CancelCauseFunc
	mu   sync.RWMutex // held for reading while something is put
	shut bool
}

func newQueue(length int, bytes int64) *queue {
	q := &queue{items: make(chan *Delivery, length), bytes: semaphore.NewWeighted(bytes), most: bytes}
	q.ctx, q.end = context.WithCancelCause(context.Background())
	return q
}

// put waits for room until ctx ends or the queue closes.
func (q *queue) put(ctx context.Context, d *Delivery) error {
	q.mu.RLock()
	defer q.mu.RUnlock()
	switch {
	case q.shut:
		return ErrClosed
	case d.size() > q.most:
		return ErrTooLong
	case q.tryPut(d):
		return nil
	}
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	defer context.AfterFunc(q.ctx, func() { cancel(ErrClosed) })()
	if q.bytes.Acquire(ctx, d.size()) != nil {
		return context.Cause(ctx)
	}
	select {
	case q.items <- d:
		return nil
	case <-ctx.Done():
		q.bytes.Release(d.size())
		return context.Cause(ctx)
	}
}

// offer puts d only if there is room now.
func (q *queue) offer(d *Delivery) bool {
	q.mu.RLock()
	defer q.mu.RUnlock()
	return !q.shut && q.tryPut(d)
}

func (q *queue) tryPut(d *Delivery) bool {
	if !q.bytes.TryAcquire(d.size()) {
		return false
	}
	select {
	case q.items <- d:
		return true
	default:
		q.bytes.Release(d.size())
		return false
	}
}

// settled gives back the room of a delivery.
func (q *queue) settled(d Delivery) { q.bytes.Release(d.size()) }

// close refuses everything from now on; what waits for room leaves with
// [ErrClosed]. After it returns nothing is put any more.
func (q *queue) close() {
	q.end(ErrClosed)
	q.mu.Lock()
	q.shut = true
	q.mu.Unlock()
}
