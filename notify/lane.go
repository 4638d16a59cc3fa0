package notify

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"weighbeam/home"
)

// lane serves one channel in a goroutine of its own, so that a channel that
// hangs or fails delays no other.
type lane struct {
	s     *Sender
	route Route
	wake  chan struct{}

	mu    sync.Mutex
	queue map[string]home.Notice // by id; those under way included
	gone  map[string]bool        // let go of since the store was last asked what is due

	fails int         // failed tries in a row; used by run alone
	rest  time.Time   // no try before, by the machine's clock: a receiver lives by that
	calm  time.Time   // nor anything else, for the store failed
	works atomic.Bool // something was taken, and what waits was not hastened yet
	busy  chan struct{}

	single time.Time // a folded message was refused: until then each notice goes by itself
}

func newLane(s *Sender, r Route) *lane {
	return &lane{s: s, route: r, wake: make(chan struct{}, 1), queue: map[string]home.Notice{}, gone: map[string]bool{}, busy: make(chan struct{}, 1)}
}

// prepare is called before the store is asked what is due. It returns how many
// notices the lane holds.
func (l *lane) prepare() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	clear(l.gone)
	return len(l.queue)
}

// add queues n, as the store had it when it was asked, and reports whether it
// was not there yet. What the lane let go of meanwhile is not as n says any
// more: queued again, it would be sent twice.
func (l *lane) add(n home.Notice) bool {
	l.mu.Lock()
	_, known := l.queue[n.ID]
	known = known || l.gone[n.ID]
	if !known {
		l.queue[n.ID] = n
	}
	l.mu.Unlock()
	return !known
}

// ring makes the lane look at its queue.
func (l *lane) ring() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

func (l *lane) drop(id string) {
	l.mu.Lock()
	delete(l.queue, id)
	l.gone[id] = true
	l.mu.Unlock()
}

func (l *lane) held() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.queue)
}

func (l *lane) run(ctx context.Context) {
	for ctx.Err() == nil {
		if l.works.Swap(false) {
			l.hasten(ctx)
			l.s.Wake()
		}
		batch := l.next()
		pause := l.pause(batch)
		if len(batch) > 0 && pause <= 0 {
			l.serve(ctx, batch)
			l.s.Wake() // the store's next due time may be another now
			continue
		}
		l.idle(ctx, len(batch) > 0, pause)
	}
}

// pause is how long to wait before batch. What is urgent waits for a pause of its own
// between tries, but not until a receiver that failed has rested: it may be there again.
func (l *lane) pause(batch []home.Notice) time.Duration {
	if len(batch) > 0 && urgent(batch[0]) {
		return time.Until(l.calm)
	}
	return time.Until(later(l.calm, l.rest))
}

// hasten ends the rest and makes due what waits for its next try: the receiver takes
// something again.
func (l *lane) hasten(ctx context.Context) {
	l.fails, l.rest = 0, time.Time{}
	all, err := l.s.store.Notices(ctx, "")
	if err != nil {
		l.s.trouble(ctx, "look for what can be tried again", err)
		l.works.Store(true) // asked again when the store is looked at next
		return
	}
	now := l.s.opts.Now()
	for _, n := range all {
		if n.Channel == l.route.Name && n.State == home.Waiting && n.Attempts > 0 && n.Due.After(now) {
			n.Due, n.Reason = now, "The channel takes something again: to be tried at once."
			l.settle(ctx, n)
		}
	}
}

// idle waits for something to do: for more notices, or for the rest to end.
func (l *lane) idle(ctx context.Context, resting bool, pause time.Duration) {
	var over <-chan time.Time
	if resting {
		t := time.NewTimer(min(pause, l.s.opts.Idle))
		defer t.Stop()
		over = t.C
	}
	select {
	case <-ctx.Done():
	case <-l.wake:
	case <-over:
	}
}

// next is what to try next, as one message.
func (l *lane) next() []home.Notice {
	l.s.filling.Lock()
	defer l.s.filling.Unlock()
	l.mu.Lock()
	defer l.mu.Unlock()
	all := make([]home.Notice, 0, len(l.queue))
	for _, n := range l.queue {
		all = append(all, n)
	}
	if time.Now().Before(l.single) {
		return pick(all, alone)
	}
	return pick(all, l.s.opts.Fold)
}
