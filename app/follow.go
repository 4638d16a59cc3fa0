package app

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"weighbeam/home"
)

// follower runs a stage: a round after each commit and, where there is none, from
// time to time. An error is logged once, kept for Health, and the round is tried
// again: only the end of the context ends a follower.
type follower struct {
	name     string
	round    func(ctx context.Context) (more bool, err error)
	position func(ctx context.Context) (int64, error) // in the journal
	changed  func() <-chan struct{}                   // closed by the next commit
	wait     time.Duration                            // real time between two looks at the clock
	log      *slog.Logger
	rest     func() (done bool) // called after each round that left nothing to do, until it is done; nil for nobody

	mu       sync.Mutex
	last     time.Time // real time of the last round that went well
	caughtUp time.Time // and of the last one that left nothing to do, or of the start
	failed   error
}

// gathers is which part of the time between two looks at the clock a stage lets
// commits gather for.
const gathers = 10

// Run runs rounds until ctx ends.
func (f *follower) Run(ctx context.Context) {
	f.mu.Lock()
	f.caughtUp = time.Now()
	f.mu.Unlock()
	for ctx.Err() == nil {
		changed := f.changed()
		more, err := f.round(ctx)
		if ctx.Err() != nil {
			return
		}
		f.note(more, err)
		if more {
			continue
		}
		if err == nil && f.rest != nil && f.rest() {
			f.rest = nil
		}
		select {
		case <-ctx.Done():
		case <-changed:
			// A commit of another stage is no reason to hurry after a failure; and where
			// commits come close together, one look at several is cheaper than many looks.
			if err != nil {
				pause(ctx, f.wait)
			} else {
				pause(ctx, f.wait/gathers)
			}
		case <-time.After(f.wait):
		}
	}
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

func (f *follower) note(more bool, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	switch {
	case err == nil:
		f.last = time.Now()
		if !more {
			f.caughtUp = f.last
		}
		if f.failed != nil {
			f.log.Info("well again", "stage", f.name)
		}
	case f.failed == nil:
		f.log.Error("a stage failed and will try again", "stage", f.name, "err", err, "hint", home.Hint(err))
	}
	f.failed = err
}

// Health returns when the last round went well, in real time, for how long there has
// been more to do at once, and what is wrong now, if anything is.
func (f *follower) Health() (last time.Time, behind time.Duration, err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.caughtUp.Before(f.last) {
		behind = f.last.Sub(f.caughtUp)
	}
	return f.last, behind, f.failed
}
