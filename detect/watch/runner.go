package watch

import (
	"context"
	"sync"
	"sync/atomic"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// Store is what a Runner needs of the store.
type Store interface {
	Household(ctx context.Context) (home.Household, error)
	Journal(ctx context.Context, after int64, limit int) ([]home.Entry, error)
	Cursor(ctx context.Context, name string) (home.Cursor, error)
	Weighings(ctx context.Context, cat string, from, to time.Time) ([]home.Weighing, error)
	Counts(ctx context.Context, cat string, q home.Quantity, from, to time.Time) ([]home.Reading, error)
	Checks(ctx context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error)
	Care(ctx context.Context, cat string, from, to time.Time) ([]home.Care, error)
	VisitsOf(ctx context.Context, cat string, from, to time.Time) ([]home.Visit, error)
	Heard(ctx context.Context, source string, from, to time.Time) ([]time.Time, error)
	ClockHours(ctx context.Context, source string, from, to time.Time) ([]home.ClockHour, error)
	Findings(ctx context.Context, openOnly bool, since time.Time) ([]home.Finding, error)
	Decide(ctx context.Context, d home.Decision) error
}

// Options say how a Runner watches.
type Options struct {
	Detect detect.Options
	Now    func() time.Time // the clock of the house: what turned is decided by it
	// Reached is up to when everything is in the store, where what makes weighings is
	// behind the clock: zero while it has not come to any time. Nil: Now.
	Reached func() time.Time
	// Owed returns the notices that a turn owes, decided at now.
	Owed func(t home.Transition, now time.Time) []home.Notice
	// Decided is called after a commit that turned something.
	Decided func()
}

// Runner watches a house, round by round.
type Runner struct {
	store Store
	opt   Options

	mu     sync.Mutex // guards all below
	house  *House
	cursor home.Cursor
	stored home.Cursor
	moved  time.Time // when it was stored
	loaded bool      // house and cursor follow from what the store holds

	position atomic.Int64 // of the cursor
	caught   atomic.Bool  // see CaughtUp
}

const (
	cursorName = "watch"
	batch      = 10_000 // journal entries that one round takes at most

	// A cursor that moved while nothing turned is stored after so long: on small
	// computers each commit wears the card, and what follows it can be looked at twice.
	moveEvery = time.Minute
)

// NewRunner returns a Runner that has not begun.
func NewRunner(store Store, opt Options) *Runner {
	if opt.Reached == nil {
		opt.Reached = opt.Now
	}
	return &Runner{store: store, opt: opt, house: NewHouse(opt.Detect)}
}

// load makes the house from all that is stored, up to the position reached.
func (r *Runner) load(ctx context.Context) error {
	cursor, err := r.store.Cursor(ctx, cursorName)
	if err != nil {
		return err
	}
	h, err := r.store.Household(ctx)
	if err != nil {
		return err
	}
	reached := cursor.Tick
	if latest := r.latest(); reached.After(latest) { // by a clock that ran ahead
		reached = latest
	}
	house := NewHouse(r.opt.Detect)
	house.SetHousehold(h)
	for _, c := range h.Cats {
		if err := r.sync(ctx, house, c.ID, span{}); err != nil {
			return err
		}
	}
	for _, s := range h.Scales {
		if err := r.syncScale(ctx, house, s.ID, span{}); err != nil {
			return err
		}
		if err := r.syncClock(ctx, house, s.ID, span{reached.Add(-2 * oneDay), endOfTime}); err != nil {
			return err
		}
	}
	if !cursor.Tick.IsZero() {
		open, err := r.store.Findings(ctx, true, time.Time{})
		if err != nil {
			return err
		}
		house.Restore(reached, open)
	}
	r.house, r.stored, r.loaded = house, cursor, true
	r.reach(cursor)
	return nil
}

// until is up to when everything is in the store.
func (r *Runner) until() time.Time { return r.opt.Reached().UTC().Truncate(home.TimeStep) }

// latest is what nothing can have come after: until, or the clock where that is not known.
func (r *Runner) latest() time.Time {
	if until := r.until(); !until.IsZero() {
		return until
	}
	return r.clock()
}

// clock is what the clock of the house shows.
func (r *Runner) clock() time.Time { return r.opt.Now().UTC().Truncate(home.TimeStep) }

// Look brings the house to what is stored and lets time pass up to now, without
// telling anybody or storing anything: for who only reads beside the program.
func (r *Runner) Look(ctx context.Context) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if err := r.load(ctx); err != nil {
		return err
	}
	r.loaded = false // a round after this begins from what is stored
	r.house.Advance(r.until())
	return nil
}

// Round deals with what is new in the journal and lets time pass. more says that
// the journal may hold more than one round takes. After an error the next round
// begins from what is stored.
func (r *Runner) Round(ctx context.Context) (more bool, err error) {
	// Asked before the journal is read, so that what came up to now is in it.
	until, now := r.until(), r.clock()
	if until.After(now) { // the clock was set back a little: nothing is decided before what it follows
		now = until
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.loaded || !until.IsZero() && r.house.Reached().After(until) { // the clock was set back
		if err := r.load(ctx); err != nil {
			return false, err
		}
	}
	entries, err := r.store.Journal(ctx, r.cursor.Journal, batch)
	if err != nil {
		return false, err
	}
	// From here the house is ahead of the store until the commit. If that fails,
	// the next round begins from what is stored, so that nothing is told half.
	r.loaded = false
	if err := r.take(ctx, entries); err != nil {
		return false, err
	}
	if err := r.decide(ctx, until, now, entries); err != nil {
		return false, err
	}
	r.loaded = true
	more = len(entries) == batch
	if !more && !until.IsZero() {
		r.caught.Store(true)
	}
	return more, nil
}

// decide lets time pass up to until and commits what turned, with the position reached
// and what is owed by now: what turns at a start does so before until is known.
func (r *Runner) decide(ctx context.Context, until, now time.Time, entries []home.Entry) error {
	d := home.Decision{Turns: append(r.house.Advance(until), r.house.Heed(now)...)}
	d.Cursor = home.Cursor{Name: cursorName, Journal: r.cursor.Journal, Tick: r.house.Reached()}
	if len(entries) > 0 {
		d.Cursor.Journal = entries[len(entries)-1].ID
	}
	if len(d.Turns) == 0 && !r.due(d.Cursor, until) {
		r.reach(d.Cursor)
		return nil // nothing worth a commit
	}
	for _, t := range d.Turns {
		d.Notices = append(d.Notices, r.opt.Owed(t, now)...)
	}
	if err := r.store.Decide(ctx, d); err != nil {
		return err
	}
	r.stored = d.Cursor
	r.moved = until
	r.reach(d.Cursor)
	if len(d.Turns) > 0 {
		r.opt.Decided()
	}
	return nil
}

// due reports whether the cursor alone is to be stored.
func (r *Runner) due(next home.Cursor, until time.Time) bool {
	if next.Journal == r.stored.Journal {
		return next.Tick.Sub(r.stored.Tick).Abs() >= time.Hour
	}
	return until.Sub(r.moved).Abs() >= moveEvery
}

func (r *Runner) reach(c home.Cursor) {
	r.cursor = c
	r.position.Store(c.Journal)
}

// Position is up to which entry of the journal everything was looked at. Zero before
// the first round.
func (r *Runner) Position() int64 { return r.position.Load() }

// CaughtUp reports whether everything that was stored at the start was looked at, up
// to now: before that, what is known is not all that will be.
func (r *Runner) CaughtUp() bool { return r.caught.Load() }

// Outlook is what is known of a cat now.
func (r *Runner) Outlook(cat string) home.Outlook {
	r.mu.Lock()
	defer r.mu.Unlock()
	o, ok := r.house.Outlook(cat)
	if !ok {
		return home.Outlook{Cat: cat}
	}
	return o
}

// Trend is the smoothed weight of a cat, for charts.
func (r *Runner) Trend(cat string) []home.TrendPoint {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.house.Trend(cat)
}
