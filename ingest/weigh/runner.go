package weigh

import (
	"context"
	"log/slog"
	"math"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"weighbeam/home"
)

// Store is what a Runner needs of the store.
type Store interface {
	Household(ctx context.Context) (home.Household, error)
	Namings(ctx context.Context) ([]home.Naming, error)
	Calibrations(ctx context.Context, source string) ([]home.Calibration, error)
	Journal(ctx context.Context, after int64, limit int) ([]home.Entry, error)
	JournalEnd(ctx context.Context) (int64, error)
	EachReading(ctx context.Context, f func(home.Reading) error) (journalEnd int64, err error)
	Checkpoints(ctx context.Context) ([]home.Checkpoint, error)
	FirstReadings(ctx context.Context, source string, q home.Quantity, from, to time.Time, limit int) ([]home.Reading, error)
	DayHeard(ctx context.Context, to time.Time, n int) (time.Time, error)
	Trim(ctx context.Context, c home.Checkpoint) (int64, error)
	Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error)
	SaveVisits(ctx context.Context, c home.Cursor, changed, gone []home.Visit) error
}

// Options say how a Runner works.
type Options struct {
	Now  func() time.Time // the clock of the house
	Keep time.Duration    // for how long load is kept; 0: for ever
	Log  *slog.Logger
	// Driven says that the clock of the house runs as it likes, and not as that of the
	// machine: a history is made anew at once and in one piece, however long it takes.
	Driven bool
}

// Runner follows the journal and keeps the visits in the store up to date.
type Runner struct {
	store Store
	opt   Options

	weigher *Weigher // nil where it must be made anew
	cursor  home.Cursor
	making  *making // nil where the history is not being made anew
	spacing
	seen    time.Time // the clock of the house at the last round
	moved   time.Time // when the cursor was stored
	trimmed time.Time
	step    int // trimStep
	page    int // pageSize
	slice   int // sliceSize

	position atomic.Int64 // of the cursor

	mu      sync.Mutex
	reached time.Time // by the clock of the house: everything up to then was looked at
}

const (
	cursorName = "weigh"
	batch      = 10_000 // journal entries a round

	// A cursor that moved while no visit changed is stored after so long: on small
	// computers each commit wears the card, and what follows it can be looked at twice.
	moveEvery = time.Minute
)

// NewRunner returns a Runner that has not begun.
func NewRunner(store Store, opt Options) *Runner {
	r := &Runner{store: store, opt: opt, step: trimStep, page: pageSize, slice: sliceSize, spacing: spacing{rest: rest, stopwatch: time.Now}}
	if opt.Driven {
		r.slice, r.rest = math.MaxInt, 0
	}
	return r
}

// Reached is the time, by the clock of the house, up to which everything was
// looked at and named. Zero before the first round. It goes back only where that clock
// was set back.
func (r *Runner) Reached() time.Time {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.reached
}

// Position is up to which entry of the journal everything was looked at, and what came
// late took its place. Zero before the first round.
func (r *Runner) Position() int64 { return r.position.Load() }

// Round deals with what is new and lets time pass. more says that there is more to do
// at once. What comes late holds nothing up: visits are found and named without it, and
// the history is made anew beside that, a part in each round, when that is due. After an
// error the next round makes everything anew. All rounds are given the same context.
func (r *Runner) Round(ctx context.Context) (more bool, err error) {
	// Asked before the journal is read, so that what came up to now is in it.
	now := r.opt.Now()
	r.mind(now)
	caughtUp, err := r.live(ctx, now)
	if err != nil {
		return false, err
	}
	more = !caughtUp
	if r.making != nil || r.due() {
		more, err = true, r.makeOn(ctx, now)
	}
	if caughtUp {
		r.reach(now)
	}
	return more && err == nil, err
}

// live takes in what the journal says is new. caughtUp says that this was all, and that
// there is a weigher that knows what people said.
func (r *Runner) live(ctx context.Context, now time.Time) (caughtUp bool, err error) {
	if r.weigher == nil {
		return false, nil
	}
	entries, err := r.store.Journal(ctx, r.cursor.Journal, batch)
	if err != nil {
		return false, err
	}
	w := r.weigher
	r.weigher = nil // until the commit the weigher is ahead of the store
	if slices.ContainsFunc(entries, said) {
		r.Close()
		return false, nil
	}
	if err := r.fresh(ctx, w, entries, now); err != nil {
		return false, err
	}
	changed := w.Release(now)
	w.await(now)
	r.owe(w)
	next := r.cursor
	if len(entries) > 0 {
		next.Journal = entries[len(entries)-1].ID
	}
	if len(changed) > 0 || next != r.cursor && now.Sub(r.moved).Abs() >= moveEvery {
		if err := r.store.SaveVisits(ctx, next, changed, nil); err != nil {
			return false, err
		}
		r.moved = now
	}
	r.reachEntry(w, next)
	if len(entries) < batch {
		return true, r.trim(ctx, now)
	}
	return false, nil
}

func (r *Runner) reachEntry(w *Weigher, c home.Cursor) {
	r.weigher, r.cursor = w, c
	if r.owed {
		return // the position stays before what came late
	}
	r.position.Store(c.Journal)
}

// inTime orders readings as [Store.EachReading] does within what matters here:
// by time, then source.
func inTime(a, b home.Reading) int {
	if c := a.Time.Compare(b.Time); c != 0 {
		return c
	}
	if a.Source < b.Source {
		return -1
	}
	if a.Source > b.Source {
		return 1
	}
	return int(a.Seq - b.Seq)
}
