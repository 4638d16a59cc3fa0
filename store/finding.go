package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

// Decide commits what one step of watching found: the turns of findings, the
// notices they owe and the position reached, together or not at all.
func (db *DB) Decide(ctx context.Context, d home.Decision) error {
	return db.tx(ctx, "store findings", func(w *work) error {
		for _, t := range d.Turns {
			if err := w.turn(t); err != nil {
				return err
			}
		}
		for _, n := range d.Notices {
			if err := w.owe(n); err != nil {
				return err
			}
		}
		return w.move(d.Cursor)
	})
}

func (w *work) turn(t home.Transition) error {
	f := t.Finding
	body, err := json.Marshal(f)
	if err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `INSERT INTO finding (id, subject, sign, raised, closed, body) VALUES (?,?,?,?,?,?)
		ON CONFLICT (id) DO UPDATE SET closed = excluded.closed, body = excluded.body`,
		f.ID(), f.Subject(), string(f.Sign), f.Raised.UnixMicro(), micros(f.Closed), string(body))
	if err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `INSERT INTO finding_turn (finding, n, turn, at, body)
		SELECT ?1, count(*) + 1, ?2, ?3, ?4 FROM finding_turn WHERE finding = ?1`,
		f.ID(), string(t.Turn), t.At.UnixMicro(), string(body))
	if err != nil {
		return err
	}
	// Its subject is no cat here: nothing that a finding is made of has changed.
	return w.enter(home.Entry{Matter: home.OfFinding, Source: f.Subject(), From: f.Raised, To: t.At, N: 1})
}

// Findings returns findings, newest first: only the open ones, or also those
// that were open at or after since. A zero since is no bound.
func (db *DB) Findings(ctx context.Context, openOnly bool, since time.Time) ([]home.Finding, error) {
	return list(ctx, db.read, "read findings", scanFinding, `SELECT body FROM finding
		WHERE closed IS NULL OR (NOT ? AND closed >= ?) ORDER BY raised DESC, id`, openOnly, bound(since, 0))
}

func scanFinding(rows *sql.Rows) (home.Finding, error) {
	var f home.Finding
	var body string
	if err := rows.Scan(&body); err != nil {
		return f, err
	}
	return f, json.Unmarshal([]byte(body), &f)
}

// Finding returns one finding by its id, or home.ErrNotFound.
func (db *DB) Finding(ctx context.Context, id string) (home.Finding, error) {
	var f home.Finding
	var body string
	err := db.read.QueryRowContext(ctx, `SELECT body FROM finding WHERE id = ?`, id).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return f, fmt.Errorf("finding %q: %w", id, home.ErrNotFound)
	}
	if err != nil {
		return f, wrap("read finding", err)
	}
	return f, wrap("read finding", json.Unmarshal([]byte(body), &f))
}

// Turns returns the life of one finding, each turn with what was known then.
func (db *DB) Turns(ctx context.Context, id string) ([]home.Transition, error) {
	return list(ctx, db.read, "read finding", func(rows *sql.Rows) (home.Transition, error) {
		var t home.Transition
		var at int64
		var body string
		if err := rows.Scan(&t.Turn, &at, &body); err != nil {
			return t, err
		}
		t.At = time.UnixMicro(at).UTC()
		return t, json.Unmarshal([]byte(body), &t.Finding)
	}, `SELECT turn, at, body FROM finding_turn WHERE finding = ? ORDER BY n`, id)
}
