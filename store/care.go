package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"time"

	"weighbeam/home"
)

func (a *appender) care(c home.Care) error {
	cat, err := a.slug(c.Cat)
	if err != nil {
		return err
	}
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	until := c.Until
	if !c.Kind.Spans() {
		until = c.From
	}
	res, err := a.ExecContext(a.ctx, `INSERT INTO care (id, cat, start, finish, body) VALUES (?,?,?,?,?) ON CONFLICT DO NOTHING`,
		c.ID, cat, c.From.UnixMicro(), micros(until), string(body))
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		a.tally.Duplicate++
		return err
	}
	a.tally.Stored++
	key := entryKey{home.OfCare, home.Hand, c.Cat, ""}
	a.enter(key, c.From, c.Told)
	a.enter(key, careEnd(c), c.Told)
	return nil
}

// careEnd is the last moment at which what is derived may depend on c, as far as
// it is known yet.
func careEnd(c home.Care) time.Time {
	switch {
	case !c.Kind.Spans() || c.Until.IsZero() && c.Told.Before(c.From):
		return c.From
	case c.Until.IsZero():
		return c.Told
	}
	return c.Until
}

// Care returns what was done with or for one cat, or all for an empty one, that
// holds at some time from from to before to, oldest first, without what was taken
// back. A zero time is no bound.
func (db *DB) Care(ctx context.Context, cat string, from, to time.Time) ([]home.Care, error) {
	return db.cares(ctx, `WHERE (?1 = '' OR c.text = ?1) AND e.start < ?3 AND (e.finish IS NULL OR e.finish > ?2 OR e.start >= ?2)
		AND e.correction IS NULL ORDER BY e.start, e.id`, cat, bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// EveryCare returns what was done with or for one cat, or all for an empty one,
// oldest first, also what was taken back.
func (db *DB) EveryCare(ctx context.Context, cat string) ([]home.Care, error) {
	return db.cares(ctx, `WHERE ?1 = '' OR c.text = ?1 ORDER BY e.start, e.id`, cat)
}

func (db *DB) cares(ctx context.Context, where string, args ...any) ([]home.Care, error) {
	return list(ctx, db.read, "read care", func(rows *sql.Rows) (home.Care, error) {
		var c home.Care
		var body string
		if err := rows.Scan(&body); err != nil {
			return c, err
		}
		return c, json.Unmarshal([]byte(body), &c)
	}, `SELECT e.body FROM care e JOIN slug c ON c.id = e.cat `+where, args...)
}
