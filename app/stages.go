package app

import (
	"context"
	"time"
	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/ingest/weigh"
)

func (a *App) startStages(context.Context) error {
	a.weigher = weigh.NewRunner(a.store, weigh.Options{
		Now: a.opt.Now, Log: a.opt.Log, Keep: time.Duration(a.cfg.KeepLoad) * 24 * time.Hour, Driven: a.ownClock,
	})
	a.onStop(a.weigher.Close)
	a.watcher = watch.NewRunner(a.store, watch.Options{
		Detect:  detect.Options{FalsePerCatYear: float64(a.cfg.Detect.FalseFindings)},
		Now:     a.opt.Now,
		Reached: a.weigher.Reached, // never ahead of what makes weighings
		Owed:    a.owed,
		Decided: func() { a.told().sender.Wake() },
	})
	return nil
}

// runner is a stage that follows the journal.
type runner interface {
	Round(ctx context.Context) (more bool, err error)
	Position() int64
}

// follow runs a stage until Stop.
func (a *App) follow(name string, r runner) {
	f := a.follower(name, r.Round)
	if r == runner(a.watcher) { // it never is ahead of the others
		f.rest = a.caughtUp
	}
	f.position = func(context.Context) (int64, error) { return r.Position(), nil }
	a.stages = append([]*follower{f}, a.stages...) // the last one started is the first of a reading's way
	a.spawn(f.Run)
}

// caughtUp tells who waits for the start to be over, once it is, and reports whether it is.
func (a *App) caughtUp() bool {
	if !a.watcher.CaughtUp() {
		return false
	}
	if a.opt.CaughtUp != nil {
		a.opt.CaughtUp()
	}
	return true
}

func (a *App) follower(name string, round func(context.Context) (bool, error)) *follower {
	stored := func(ctx context.Context) (int64, error) {
		c, err := a.store.Cursor(ctx, name)
		return c.Journal, err
	}
	return &follower{name: name, round: round, position: stored, changed: a.store.Changed, wait: a.opt.Round, log: a.opt.Log}
}
