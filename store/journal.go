package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"weighbeam/home"
)

// enter writes one journal entry.
func (w *work) enter(e home.Entry) error {
	_, err := w.ExecContext(w.ctx, `INSERT INTO journal (kind, source, cat, quantity, first, last, n, stored) VALUES (?,?,?,?,?,?,?,?)`,
		string(e.Matter), e.Source, e.Cat, string(e.Quantity), e.From.UnixMicro(), e.To.UnixMicro(), e.N, orNull(bound(e.Stored, 0)))
	return err
}

// Journal returns the entries after the given one, oldest first, at most limit.
func (db *DB) Journal(ctx context.Context, after int64, limit int) ([]home.Entry, error) {
	return list(ctx, db.read, "read journal", func(rows *sql.Rows) (home.Entry, error) {
		var e home.Entry
		var from, to int64
		var stored *int64
		err := rows.Scan(&e.ID, &e.Matter, &e.Source, &e.Cat, &e.Quantity, &from, &to, &e.N, &stored)
		e.From, e.To, e.Stored = time.UnixMicro(from).UTC(), time.UnixMicro(to).UTC(), fromMicros(stored)
		return e, err
	}, `SELECT id, kind, source, cat, quantity, first, last, n, stored FROM journal WHERE id > ? ORDER BY id LIMIT ?`, after, limit)
}

// JournalEnd returns the number of the newest entry, 0 for none.
func (db *DB) JournalEnd(ctx context.Context) (int64, error) {
	var id int64
	err := db.read.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) FROM journal`).Scan(&id)
	return id, wrap("read journal", err)
}

// Cursor returns how far the follower of that name has come.
func (db *DB) Cursor(ctx context.Context, name string) (home.Cursor, error) {
	c := home.Cursor{Name: name}
	var tick int64
	err := db.read.QueryRowContext(ctx, `SELECT journal, tick FROM cursor WHERE name = ?`, name).Scan(&c.Journal, &tick)
	if errors.Is(err, sql.ErrNoRows) {
		return c, nil
	}
	if tick != 0 {
		c.Tick = time.UnixMicro(tick).UTC()
	}
	return c, wrap("read cursor", err)
}

func (w *work) move(c home.Cursor) error {
	_, err := w.ExecContext(w.ctx, `INSERT INTO cursor (name, journal, tick) VALUES (?,?,?)
		ON CONFLICT (name) DO UPDATE SET journal = excluded.journal, tick = excluded.tick`,
		c.Name, c.Journal, bound(c.Tick, 0))
	return err
}

// querier is the database, or a transaction on it.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// list runs a query and scans each row.
func list[T any](ctx context.Context, db querier, op string, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	rows, err := db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, wrap(op, err)
	}
	out, err := scanAll(rows, scan)
	return out, wrap(op, err)
}

// scanAll scans each row and closes them.
func scanAll[T any](rows *sql.Rows, scan func(*sql.Rows) (T, error)) ([]T, error) {
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

func wrap(op string, err error) error {
	if err == nil {
		return nil
	}
	return &home.Error{Op: op, Err: err, Hint: rotten(err)}
}

// rotten is what to do about a file that turns out to be damaged while it is read; ""
// for any other error.
func rotten(err error) string {
	if !corrupt(err) {
		return ""
	}
	return "A part of the store is damaged. Stop weighbeam, keep the file, and restore a backup: weighbeam restore FILE."
}
