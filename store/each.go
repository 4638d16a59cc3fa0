package store

import (
	"context"
	"database/sql"
	"time"

	"weighbeam/home"
)

// eachWindow is how much is sorted at a time while walking through everything.
const eachWindow = 7 * 24 * time.Hour

// EachReading calls f for every reading of every source in time order (at the same
// time by the name of the source, whatever the order they came in), all as of
// one moment, without holding them all. What a person took back is left out. It
// returns the last journal entry of that moment, and stops at the first error of
// f, which it returns as it is.
func (db *DB) EachReading(ctx context.Context, f func(home.Reading) error) (end int64, err error) {
	return db.each(ctx, `AND r.correction IS NULL`, f)
}

// EveryReading is EachReading with those that were taken back.
func (db *DB) EveryReading(ctx context.Context, f func(home.Reading) error) error {
	_, err := db.each(ctx, ``, f)
	return err
}

func (db *DB) each(ctx context.Context, only string, f func(home.Reading) error) (end int64, err error) {
	const op = "read readings"
	tx, err := db.read.BeginTx(ctx, nil)
	if err != nil {
		return 0, wrap(op, err)
	}
	defer tx.Rollback() // it only reads
	var first, last *int64
	err = tx.QueryRowContext(ctx, `SELECT (SELECT coalesce(max(id), 0) FROM journal), min(first), max(last) FROM series`).Scan(&end, &first, &last)
	if err != nil || first == nil {
		return end, wrap(op, err)
	}
	for from := *first; from <= *last; from += eachWindow.Microseconds() {
		if err := db.eachIn(ctx, tx, from, from+eachWindow.Microseconds(), only, f); err != nil {
			return 0, err
		}
	}
	return end, nil
}

// eachIn walks one window. The join with series makes each series a range of the
// primary key, so that only the window is read and sorted.
func (db *DB) eachIn(ctx context.Context, tx *sql.Tx, from, to int64, only string, f func(home.Reading) error) error {
	rows, err := tx.QueryContext(ctx, `SELECT `+readingColumns+`
		FROM series e CROSS JOIN reading r ON r.source = e.source AND r.quantity = e.quantity AND r.at >= ?1 AND r.at < ?2
		JOIN slug s ON s.id = r.source JOIN slug c ON c.id = r.cat
		WHERE e.first < ?2 AND e.last >= ?1 `+only+`
		ORDER BY r.at, s.text, r.quantity, r.seq, c.text`, from, to)
	if err != nil {
		return wrap("read readings", err)
	}
	defer rows.Close()
	for rows.Next() {
		r, err := db.scanReading(ctx, rows)
		if err != nil {
			return wrap("read readings", err)
		}
		if err := f(r); err != nil {
			return err
		}
	}
	return wrap("read readings", rows.Err())
}
