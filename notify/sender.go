package notify

import (
	"context"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"weighbeam/home"

	"github.com/cenkalti/backoff/v5"
)

// Store is the outbox, as the sender needs it.
type Store interface {
	DueNotices(ctx context.Context, now time.Time, limit int) ([]home.Notice, error)
	NextDue(ctx context.Context) (t time.Time, ok bool, err error)
	SettleNotice(ctx context.Context, n home.Notice) error
	Finding(ctx context.Context, id string) (home.Finding, error)
	Notices(ctx context.Context, finding string) ([]home.Notice, error)
}

// Route is a channel and the transport that serves it.
type Route struct {
	Channel
	Transport Transport
}

// Options of a [Sender]. The zero value is usable.
type Options struct {
	Deadline  time.Duration                                                      // for one try; 0: DefaultDeadline
	Grace     time.Duration                                                      // for a try under way when the sender stops; 0: DefaultGrace
	Idle      time.Duration                                                      // at least so often the store is asked, in case nobody woke the sender or the clock was set; 0: DefaultIdle
	Now       func() time.Time                                                   // the clock of the house, for what is due; nil: time.Now
	Fold      int                                                                // more than so many due at once over one channel become one message; 0: DefaultFold
	Pauses    func() backoff.BackOff                                             // pauses between tries; nil: from 5 s to 30 min, with jitter
	Tries     int                                                                // tries before a notice is given up; 0: DefaultTries
	Reactions func(ctx context.Context, finding string) ([]home.Reaction, error) // what people said to it; nil: nobody ever does
	Chart     func(ctx context.Context, finding string) (Chart, error)           // what goes with a notice; nil: none
	Known     []home.ChannelRecord                                               // what was remembered of the channels before
	Remember  func(ctx context.Context, r home.ChannelRecord) error              // keeps how a try ended, for the next start; nil: nobody does
	Log       *slog.Logger                                                       // nil: slog.Default()
}

// Defaults of Options. With the usual pauses, DefaultTries is about a day.
const (
	DefaultDeadline = 20 * time.Second
	DefaultGrace    = 4 * time.Second
	DefaultIdle     = time.Minute
	DefaultFold     = 3
	DefaultTries    = 56
)

// Sender takes due notices from the store and hands each to its channel.
type Sender struct {
	store Store
	lanes map[string]*lane
	opts  Options
	wake  chan struct{}

	filling sync.Mutex // held while notices are queued

	mu     sync.Mutex
	health Health
}

// New returns a sender for routes. Nothing is sent before [Sender.Run].
func New(store Store, routes []Route, opts Options) *Sender {
	s := &Sender{store: store, lanes: map[string]*lane{}, opts: opts.filled(), wake: make(chan struct{}, 1)}
	for _, r := range routes {
		s.lanes[r.Name] = newLane(s, r)
	}
	s.noteLook(time.Now())
	s.recall(opts.Known)
	return s
}

func (o Options) filled() Options {
	set := func(d *time.Duration, to time.Duration) {
		if *d <= 0 {
			*d = to
		}
	}
	set(&o.Deadline, DefaultDeadline)
	set(&o.Grace, DefaultGrace)
	set(&o.Idle, DefaultIdle)
	if o.Fold <= 0 {
		o.Fold = DefaultFold
	}
	if o.Tries <= 0 {
		o.Tries = DefaultTries
	}
	if o.Pauses == nil {
		o.Pauses = usualPauses
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Log == nil {
		o.Log = slog.Default()
	}
	return o
}

func usualPauses() backoff.BackOff {
	b := backoff.NewExponentialBackOff()
	b.InitialInterval, b.Multiplier, b.MaxInterval, b.RandomizationFactor = 5*time.Second, 2, 30*time.Minute, 0.2
	return b
}

// Wake makes the sender look for due notices at once. It never blocks.
func (s *Sender) Wake() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// Run sends what is due until ctx ends, then gives tries under way Options.Grace
// to finish and returns. What was not finished is sent by the next Run.
func (s *Sender) Run(ctx context.Context) {
	var lanes sync.WaitGroup
	for _, l := range s.lanes {
		lanes.Go(func() { l.run(ctx) })
	}
	defer lanes.Wait()
	watch := newClockWatch(s.opts.Now)
	for right := false; ; {
		if watch.setBack() || !right {
			right = s.mend(ctx)
		}
		sleep := time.NewTimer(s.look(ctx))
		select {
		case <-ctx.Done():
			sleep.Stop()
			return
		case <-s.wake:
		case <-sleep.C:
		}
		sleep.Stop()
	}
}

// Try sends a message that asks for nothing over a channel, to see whether it
// works. It returns home.ErrNotFound, wrapped, for a channel that is not there,
// and a *Failure, fit to be shown, if the channel did not take it.
func (s *Sender) Try(ctx context.Context, channel string) error {
	l, ok := s.lanes[channel]
	if !ok {
		return fmt.Errorf("channel %q: %w", channel, home.ErrNotFound)
	}
	err := l.try(ctx, Trial(channel, s.opts.Now()))
	defer s.remember(ctx, channel)
	if err == nil {
		s.noteTook(channel, s.opts.Now())
		l.works.Store(true)
		l.ring()
		return nil
	}
	f := failure(err)
	s.noteFailed(channel, f.Why, s.opts.Now())
	return f
}

// look hands every due notice to its lane and returns how long to sleep.
func (s *Sender) look(ctx context.Context) time.Duration {
	s.noteLook(time.Now())
	now := s.opts.Now()
	if err := s.fill(ctx, now); err != nil {
		return s.trouble(ctx, "look for due notices", err)
	}
	for _, l := range s.lanes {
		l.ring()
	}
	return s.sleep(ctx, now)
}

// fill queues all that is due. The lanes wait for that: what is due at once can
// only become one message if they see it at once.
func (s *Sender) fill(ctx context.Context, now time.Time) error {
	s.filling.Lock()
	defer s.filling.Unlock()
	for taken := claimed; taken == claimed; {
		held := 0
		for _, l := range s.lanes {
			held += l.prepare()
		}
		// What a lane holds is still due in the store: ask for more than that, or
		// a full lane would hide what is due over the others.
		due, err := s.store.DueNotices(ctx, now, held+claimed)
		if err != nil {
			return err
		}
		s.noteDue(due, now)
		taken = 0
		for _, n := range due {
			if s.dispatch(ctx, n) {
				taken++
			}
		}
	}
	return nil
}

// claimed is how many notices are taken from the store in one read.
const claimed = 256

// pollHeld is how often the store is asked while lanes hold notices: these are
// due, so the store's next due time says nothing about the others.
const pollHeld = 5 * time.Second

func (s *Sender) sleep(ctx context.Context, now time.Time) time.Duration {
	if s.held() > 0 {
		return pollHeld
	}
	next, ok, err := s.store.NextDue(ctx)
	switch {
	case err != nil:
		return s.trouble(ctx, "look for the next due notice", err)
	case !ok:
		return s.opts.Idle
	}
	return min(max(next.Sub(now), 0), s.opts.Idle)
}

// dispatch gives n to its lane and reports whether it was new there. A notice
// for a channel that there is no more is withheld: nobody is waiting for it.
func (s *Sender) dispatch(ctx context.Context, n home.Notice) bool {
	if l, ok := s.lanes[n.Channel]; ok {
		return l.add(n)
	}
	n.State, n.Reason, n.Decided = home.Withheld, "The channel is no longer configured.", s.opts.Now().UTC()
	if err := s.store.SettleNotice(ctx, n); err != nil {
		s.trouble(ctx, "settle a notice", err)
		return false
	}
	return true
}

func (s *Sender) held() int {
	total := 0
	for _, l := range s.lanes {
		total += l.held()
	}
	return total
}

// trouble notes that the store failed and returns how long to leave it alone.
func (s *Sender) trouble(ctx context.Context, op string, err error) time.Duration {
	if ctx.Err() == nil {
		s.noteStore(op, err)
		s.opts.Log.Error("notices wait: the store failed", "op", op, "err", err)
	}
	return pollHeld
}
