package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"weighbeam/home"
)

// Append takes in a batch in one transaction and says how each part was
// settled. Readings must be valid (home.Reading.Valid). When it returns an
// error, nothing of the batch was kept and nothing may be acknowledged.
func (db *DB) Append(ctx context.Context, b home.Batch) (home.Tally, error) {
	var tally home.Tally
	err := db.tx(ctx, "store readings", func(w *work) error {
		var err error
		tally, err = w.append(b)
		return err
	})
	if err != nil {
		return home.Tally{}, err
	}
	return tally, nil
}

func (w *work) append(b home.Batch) (home.Tally, error) {
	// Statements of one row are not worth a watcher each, which is what the driver starts
	// for a context that can end. When it ends the transaction does, before the next row.
	w.ctx = context.WithoutCancel(w.ctx)
	a := appender{work: w, stored: b.Stored, entries: map[entryKey]*batchEntry{}}
	if err := a.all(b); err != nil {
		return home.Tally{}, err
	}
	return a.tally, a.journal()
}

// appender is the state of one Append.
type appender struct {
	*work
	tally   home.Tally
	stored  time.Time
	entries map[entryKey]*batchEntry
	order   []entryKey
	refused func(why string) // hears that the reading in hand is set aside; nil for nobody
}

// batchEntry is what one batch brought of one kind.
type batchEntry struct {
	home.Entry
	arrived time.Time // newest
}

type entryKey struct {
	matter      home.Matter
	source, cat string
	quantity    home.Quantity
}

func (a *appender) all(b home.Batch) error {
	for i, r := range b.Readings {
		if b.Refused != nil {
			a.refused = func(why string) { b.Refused(i, why) }
		}
		if err := a.reading(r.Normal(), ""); err != nil {
			return err
		}
	}
	a.refused = nil
	for _, c := range b.Checks {
		if err := a.check(c); err != nil {
			return err
		}
	}
	for _, p := range b.Photos {
		if err := a.photo(p); err != nil {
			return err
		}
	}
	for _, c := range b.Care {
		if err := a.care(c); err != nil {
			return err
		}
	}
	for _, s := range b.SetAside {
		if err := a.setAside(s); err != nil {
			return err
		}
	}
	for _, r := range b.Retried {
		if err := a.retried(r); err != nil {
			return err
		}
	}
	for _, n := range b.Answers {
		if err := a.answer(n); err != nil {
			return err
		}
	}
	return nil
}

const (
	insertReading = `INSERT INTO reading
		(source, quantity, at, seq, cat, value, lag, clock, sd, retained, window, state, note, home_check)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT DO NOTHING`

	// Most readings are load, and have nothing that can be missing.
	insertPlain = `INSERT INTO reading (source, quantity, at, seq, cat, value, lag, clock)
		VALUES (?,?,?,?,?,?,?,?) ON CONFLICT DO NOTHING`
)

func (a *appender) reading(r home.Reading, check string) error {
	source, err := a.slug(r.Source)
	if err != nil {
		return err
	}
	cat, err := a.slug(r.Cat)
	if err != nil {
		return err
	}
	if r.Arrived.IsZero() {
		r.Arrived = r.Time
	}
	if known, err := a.numbered(r, source); err != nil || known {
		return err
	}
	res, err := a.insert(r, source, cat, check)
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return errors.Join(err, a.again(r, source, cat))
	}
	a.tally.Stored++
	a.enter(entryKey{home.OfReading, r.Source, r.Cat, r.Quantity}, r.Time, r.Arrived)
	return nil
}

func (a *appender) insert(r home.Reading, source, cat int64, check string) (sql.Result, error) {
	quantity, at, lag, clock := quantityCodes[r.Quantity], r.Time.UnixMicro(), r.Arrived.Sub(r.Time).Microseconds(), clockCodes[r.Clock]
	if r.SD == 0 && !r.Retained && r.Window == 0 && r.State == "" && r.Note == "" && check == "" {
		return a.ExecContext(a.ctx, insertPlain, source, quantity, at, r.Seq, cat, r.Value, lag, clock)
	}
	return a.ExecContext(a.ctx, insertReading, source, quantity, at, r.Seq, cat, r.Value, lag, clock,
		orNull(r.SD), orNull(r.Retained), orNull(r.Window.Microseconds()), orNull(string(r.State)), orNull(r.Note), orNull(check))
}

// enter notes for the journal that something dated at changed.
func (a *appender) enter(k entryKey, at, arrived time.Time) {
	e := a.entries[k]
	if e == nil {
		e = &batchEntry{Entry: home.Entry{Matter: k.matter, Source: k.source, Cat: k.cat, Quantity: k.quantity, From: at, To: at}}
		a.entries[k] = e
		a.order = append(a.order, k)
	}
	e.N++
	if at.Before(e.From) {
		e.From = at
	}
	if at.After(e.To) {
		e.To = at
	}
	if arrived.After(e.arrived) {
		e.arrived = arrived
	}
}

// journal writes what the batch brought: a line of the journal a kind, and what
// there is now of each series.
func (a *appender) journal() error {
	for _, k := range a.order {
		e := a.entries[k]
		e.Stored = a.stored
		if err := a.work.enter(e.Entry); err != nil {
			return err
		}
		if k.matter != home.OfReading {
			continue
		}
		source, err := a.slug(k.source)
		if err != nil {
			return err
		}
		_, err = a.ExecContext(a.ctx, `INSERT INTO series (source, quantity, n, first, last, arrived, stored) VALUES (?,?,?,?,?,?,?)
			ON CONFLICT (source, quantity) DO UPDATE SET n = n + excluded.n, first = min(first, excluded.first),
			last = max(last, excluded.last), arrived = max(arrived, excluded.arrived), stored = iif(excluded.arrived >= arrived, excluded.stored, stored)`,
			source, quantityCodes[k.quantity], e.N, e.From.UnixMicro(), e.To.UnixMicro(), e.arrived.UnixMicro(), orNull(bound(a.stored, 0)))
		if err != nil {
			return err
		}
	}
	return nil
}
