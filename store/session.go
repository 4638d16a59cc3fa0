package store

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"weighbeam/home"
)

// Session returns what was kept under the hash of a session's token, unless its
// time is over by now.
func (db *DB) Session(ctx context.Context, hash string, now time.Time) (body []byte, found bool, err error) {
	err = db.read.QueryRowContext(ctx, `SELECT body FROM session WHERE hash = ? AND until > ?`, hash, now.UnixMicro()).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, &home.Error{Op: "read a session", Err: err}
	}
	return body, true, nil
}

// KeepSession keeps body under the hash of a session's token, and drops the
// sessions whose time is over by now.
func (db *DB) KeepSession(ctx context.Context, hash string, body []byte, until, now time.Time) error {
	return db.tx(ctx, "keep a session", func(w *work) error {
		if _, err := w.ExecContext(ctx, `DELETE FROM session WHERE until <= ?`, now.UnixMicro()); err != nil {
			return err
		}
		_, err := w.ExecContext(ctx, `INSERT OR REPLACE INTO session (hash, body, until) VALUES (?,?,?)`, hash, body, until.UnixMicro())
		return err
	})
}

// DropSession ends a session.
func (db *DB) DropSession(ctx context.Context, hash string) error {
	return db.tx(ctx, "drop a session", func(w *work) error {
		_, err := w.ExecContext(ctx, `DELETE FROM session WHERE hash = ?`, hash)
		return err
	})
}
