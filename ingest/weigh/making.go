package weigh

import (
	"context"
	"errors"
	"iter"
	"slices"
	"time"

	"weighbeam/home"
)

// making is a history that is being made anew, beside the weigher that goes on.
type making struct {
	d      derivation
	before int64 // the journal when it was begun
	next   func() (home.Reading, bool)
	stop   func()
	end    int64 // the journal as of the readings
	err    error // that ended them
	now    time.Time
	took   time.Duration
}

// sliceSize is how many readings of the history are taken in a round: what is new waits
// for less than a second even on a small computer.
const sliceSize = 20_000

// errLetGo ends the walk through a history that is of no use any more.
var errLetGo = errors.New("let go")

// Close lets go of a history that is being made anew. It must not be called during a round.
func (r *Runner) Close() {
	if r.making != nil {
		r.making.stop()
		r.making = nil
	}
}

// makeOn makes a part of the history anew; when it is whole, it is what goes on.
func (r *Runner) makeOn(ctx context.Context, now time.Time) (err error) {
	began := r.stopwatch()
	if r.making == nil {
		if r.making, err = r.begun(ctx, now); err != nil {
			return err
		}
	}
	m := r.making
	whole, err := m.on(r.slice)
	if whole && err == nil {
		err = r.settle(ctx, m, now)
	}
	m.took += r.stopwatch().Sub(began)
	if whole && err == nil {
		r.made, r.took = r.stopwatch(), m.took
	}
	if whole || err != nil {
		r.Close()
	}
	return err
}

// begun is a history of which nothing was read yet.
func (r *Runner) begun(ctx context.Context, now time.Time) (*making, error) {
	m := &making{now: now}
	var err error
	if m.before, err = r.store.JournalEnd(ctx); err != nil {
		return nil, err
	}
	w, old, err := r.begin(ctx)
	if err != nil {
		return nil, err
	}
	m.d = derivation{w: w, visits: map[visitKey]home.Visit{}, old: old}
	m.next, m.stop = iter.Pull(func(yield func(home.Reading) bool) {
		m.end, m.err = r.store.EachReading(ctx, func(reading home.Reading) error {
			if !yield(reading) {
				return errLetGo
			}
			return ctx.Err()
		})
	})
	return m, nil
}

// on takes in the next n readings and reports whether these were all.
func (m *making) on(n int) (whole bool, err error) {
	for range n {
		reading, ok := m.next()
		if !ok {
			return m.err == nil, m.err
		}
		if reading, ok = m.d.w.believe(reading, m.now); ok {
			m.d.step(reading)
		}
	}
	return false, nil
}

// settle brings a history that is whole to where the journal is, commits how the visits
// differ from those kept, and goes on from it. Where people said something meanwhile, it
// is of no use: the next round begins again.
func (r *Runner) settle(ctx context.Context, m *making, now time.Time) error {
	w := m.d.w
	m.d.recall(now)
	w.late = false // it has seen all there was
	next, fits, err := r.catchUp(ctx, m, now)
	if err != nil || !fits {
		return err
	}
	r.owed = false
	r.owe(w)
	m.d.put(w.Release(now))
	w.late = false // a start would give the names in the same order
	kept, err := r.store.Visits(ctx, "", time.Time{}, time.Time{})
	if err != nil {
		return err
	}
	changed, gone := m.d.differ(kept)
	r.weigher = nil // where the commit fails, nobody knows what is kept
	if err := r.store.SaveVisits(ctx, next, changed, gone); err != nil {
		return err
	}
	r.moved = now
	r.position.Store(m.end)
	r.reachEntry(w, next)
	return nil
}

// catchUp steps a history through what came while it was made, as far as the weigher
// that goes on has come. fits is false where people said something since it was begun.
func (r *Runner) catchUp(ctx context.Context, m *making, now time.Time) (next home.Cursor, fits bool, err error) {
	next = home.Cursor{Name: cursorName, Journal: m.before}
	until := r.cursor.Journal
	if r.weigher == nil {
		if until, err = r.store.JournalEnd(ctx); err != nil {
			return next, false, err
		}
	}
	for until = max(until, m.end); next.Journal < until; {
		entries, err := r.store.Journal(ctx, next.Journal, batch)
		if err != nil {
			return next, false, err
		}
		if n := slices.IndexFunc(entries, func(e home.Entry) bool { return e.ID > until }); n >= 0 {
			entries = entries[:n]
		}
		if slices.ContainsFunc(entries, said) {
			return next, false, nil
		}
		if len(entries) == 0 {
			break
		}
		next.Journal = entries[len(entries)-1].ID
		news := slices.DeleteFunc(entries, func(e home.Entry) bool { return e.ID <= m.end })
		if err := r.fresh(ctx, m.d.w, news, now); err != nil {
			return next, false, err
		}
	}
	return next, true, nil
}

// said reports whether an entry is of what people said, on which all visits depend:
// the household, whose a visit was, how true a scale is.
func said(e home.Entry) bool {
	return e.Matter == home.OfHousehold || e.Matter == home.OfNaming || e.Matter == home.OfCalibration
}
