package notify

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
)

// serve decides about each notice of the batch, tries what is left as one
// message, and settles all of them.
func (l *lane) serve(ctx context.Context, batch []home.Notice) {
	var worth, left []home.Notice
	for _, n := range batch {
		if ctx.Err() != nil {
			return
		}
		if l.gate(ctx, n) {
			worth = append(worth, n)
		}
	}
	if len(worth) > 1 && len(worth) <= l.s.opts.Fold && !slices.ContainsFunc(worth, isDaily) {
		worth = worth[:1] // few enough to go each by itself; the others wait in the lane
	}
	for _, n := range worth {
		n.Attempts++
		n.Reason = "Being sent."
		// Counted before the try: a try that kills the program counts too.
		if !l.settle(ctx, n) {
			continue
		}
		left = append(left, n)
	}
	if len(left) == 0 {
		return
	}
	m := fold(left)
	m.Chart = l.chart(ctx, left)
	err := l.try(ctx, m)
	now := l.s.opts.Now()
	if err == nil {
		l.fails = 0
		l.tookIt(ctx, left, now)
		return
	}
	if ctx.Err() != nil {
		return // cut short: nobody knows whether it arrived, so the next run sends it again
	}
	l.failed(ctx, left, failure(err), now)
}

// gate asks whether n is still worth sending; if not, it settles it.
func (l *lane) gate(ctx context.Context, n home.Notice) bool {
	if !Asks(n) {
		return true
	}
	facts, err := l.facts(ctx, n.Finding)
	if errors.Is(err, home.ErrNotFound) {
		return true // better told without knowing more than not at all
	}
	if err != nil {
		l.drop(n.ID) // still waiting in the store: taken again at the next look
		l.calm = time.Now().Add(l.s.trouble(ctx, "read what a notice is about", err))
		return false
	}
	l.sweep(ctx, n, facts)
	v := Gate(n, l.route.Channel, facts)
	if v.Send {
		return true
	}
	n.Reason = v.Reason
	if v.Until.IsZero() {
		n.State = home.Withheld
	} else {
		n.Due = v.Until
	}
	l.done(ctx, n)
	return false
}

// sweep withholds the reminders of a finding that is over at once, rather than
// when they are due: a page that still shows them as waiting would be wrong.
func (l *lane) sweep(ctx context.Context, n home.Notice, facts Facts) {
	if facts.Finding.Open() {
		return
	}
	for _, s := range facts.Siblings {
		if s.ID != n.ID && s.Channel == n.Channel && s.Turn == home.Reminded && s.State == home.Waiting && s.Attempts == 0 {
			s.State, s.Reason = home.Withheld, ReasonOver
			l.done(ctx, s)
		}
	}
}

func (l *lane) facts(ctx context.Context, finding string) (f Facts, err error) {
	if f.Finding, err = l.s.store.Finding(ctx, finding); err != nil {
		return f, err
	}
	if f.Siblings, err = l.s.store.Notices(ctx, finding); err != nil {
		return f, err
	}
	if l.s.opts.Reactions != nil {
		f.Reactions, err = l.s.opts.Reactions(ctx, finding)
	}
	f.Now = l.s.opts.Now()
	return f, err
}

// chart is the picture of the one finding that a message is about. A notice
// never waits for its picture: without one it goes as it is.
func (l *lane) chart(ctx context.Context, batch []home.Notice) (c Chart) {
	if l.s.opts.Chart == nil || !l.route.Chart || len(batch) != 1 || batch[0].Finding == "" {
		return c
	}
	ctx, cancel := context.WithTimeout(ctx, l.s.opts.Deadline/4)
	defer cancel()
	c, err := l.s.opts.Chart(ctx, batch[0].Finding)
	if err != nil {
		l.s.opts.Log.Warn("a notice goes without its chart", "notice", batch[0].ID, "err", err)
		return Chart{}
	}
	return c
}

// try hands m to the transport. It returns by the deadline even if the
// transport does not; while that one hangs, no second try is started.
func (l *lane) try(ctx context.Context, m Message) error {
	select {
	case l.busy <- struct{}{}:
	default:
		return Unreached("the try before this one is still under way")
	}
	tryCtx, cancel := l.deadline(ctx)
	defer cancel()
	result := make(chan error, 1)
	go func() {
		defer func() { <-l.busy }()
		result <- guarded(tryCtx, l.route.Transport, m)
	}()
	select {
	case err := <-result:
		return err
	case <-tryCtx.Done():
	}
	select { // it may have ended at the same moment
	case err := <-result:
		return err
	default:
		return tryCtx.Err()
	}
}

// guarded turns a panic into a failure: one channel's library must not take
// down the watch over the cats.
func guarded(ctx context.Context, t Transport, m Message) (err error) {
	defer func() {
		if recover() != nil {
			err = Unreached("the part of the program that serves this channel broke down")
		}
	}()
	return t.Send(ctx, m)
}

// deadline is the context of one try: it ends after Options.Deadline, or
// Options.Grace after ctx does.
func (l *lane) deadline(ctx context.Context) (context.Context, context.CancelFunc) {
	tryCtx, cancel := context.WithTimeout(context.WithoutCancel(ctx), l.s.opts.Deadline)
	stop := context.AfterFunc(ctx, func() {
		t := time.AfterFunc(l.s.opts.Grace, cancel)
		context.AfterFunc(tryCtx, func() { t.Stop() })
	})
	return tryCtx, func() { stop(); cancel() }
}

func (l *lane) tookIt(ctx context.Context, batch []home.Notice, now time.Time) {
	failed := l.s.noteTook(l.route.Name, now)
	for _, n := range batch {
		n.State, n.Sent = home.Sent, now
		n.Reason = fmt.Sprintf("Taken by %s at try %d.", n.Channel, n.Attempts)
		if len(batch) > 1 {
			n.Reason = fmt.Sprintf("Taken by %s at try %d, in one message with %d others.", n.Channel, n.Attempts, len(batch)-1)
		}
		l.done(ctx, n)
	}
	if failed > awayAfter {
		l.hasten(ctx)
	}
	l.s.remember(ctx, l.route.Name)
}

// awayAfter is how long every try must have failed before that was the receiver, and not
// one message that it does not take: what it takes next then says nothing of that one.
const awayAfter = time.Minute

// noFolding is for how long nothing is folded after a folded message was refused.
const noFolding = time.Hour

func (l *lane) failed(ctx context.Context, batch []home.Notice, f *Failure, now time.Time) {
	l.s.noteFailed(l.route.Name, f.Why, now)
	l.fails++
	if !f.Retry && len(batch) > 1 {
		// Perhaps it was too long, or one of them is poison: that must not end all of them.
		l.single = time.Now().Add(noFolding)
		f = &Failure{Why: f.Why, Retry: true}
	}
	if f.Retry {
		l.rest = time.Now().Add(max(l.s.pause(l.fails), f.After))
	}
	for _, n := range batch {
		if f.Retry && n.Attempts < l.s.opts.Tries {
			n.Due = now.Add(max(l.s.pause(n.Attempts), f.After))
			n.Reason = fmt.Sprintf("Tried %d %s; the last time: %s. To be tried again.", n.Attempts, plural(n.Attempts, "time", "times"), f.Why)
		} else {
			n.State = home.GivenUp
			n.Reason = fmt.Sprintf("Given up after %d %s: %s.", n.Attempts, plural(n.Attempts, "try", "tries"), f.Why)
			l.s.opts.Log.Error("a notice was given up", "notice", n.ID, "channel", n.Channel, "why", f.Why)
		}
		l.done(ctx, n)
	}
	l.s.remember(ctx, l.route.Name)
}

// done settles n and lets go of it.
func (l *lane) done(ctx context.Context, n home.Notice) {
	if !l.settle(ctx, n) {
		return
	}
	l.drop(n.ID)
	if n.State == home.GivenUp {
		l.s.noteGivenUp(n)
	}
}

// settle writes n, for as long as it takes: a notice that was taken must not be
// sent again because the store was busy. It returns false when the sender
// stops first; then the notice stays as it was in the store.
func (l *lane) settle(ctx context.Context, n home.Notice) bool {
	write := context.WithoutCancel(ctx)
	n.Decided = l.s.opts.Now().UTC()
	for i := 1; ; i++ {
		err := l.s.store.SettleNotice(write, n)
		if err == nil {
			return true
		}
		if errors.Is(err, home.ErrNotFound) {
			l.drop(n.ID)
			return false
		}
		l.s.trouble(ctx, "settle a notice", err)
		t := time.NewTimer(min(l.s.pause(i), time.Minute))
		select {
		case <-ctx.Done():
			t.Stop()
			return false
		case <-t.C:
		}
	}
}

// pause is the pause after n failures in a row.
func (s *Sender) pause(n int) time.Duration {
	b := s.opts.Pauses()
	d := b.NextBackOff()
	for range n - 1 {
		d = b.NextBackOff()
	}
	return d
}
