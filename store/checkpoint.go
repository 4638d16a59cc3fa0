package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"weighbeam/home"
)

// Checkpoints returns the checkpoint of each source that has one, by name.
func (db *DB) Checkpoints(ctx context.Context) ([]home.Checkpoint, error) {
	return list(ctx, db.read, "read checkpoints", func(rows *sql.Rows) (home.Checkpoint, error) {
		var c home.Checkpoint
		var at int64
		err := rows.Scan(&c.Source, &at, &c.State, &c.Gain, &c.OffsetKg)
		c.At = time.UnixMicro(at).UTC()
		return c, err
	}, `SELECT s.text, c.at, c.state, coalesce(c.gain, 0), coalesce(c.base, 0) FROM checkpoint c JOIN slug s ON s.id = c.source ORDER BY 1`)
}

// Trim keeps a checkpoint and removes the load of its source before it, in one
// transaction, and gives the room back to the disk. It returns how many readings
// were removed.
func (db *DB) Trim(ctx context.Context, c home.Checkpoint) (removed int64, err error) {
	const op = "let go of old load"
	err = db.tx(ctx, op, func(w *work) (err error) {
		removed, err = w.trim(c)
		return err
	})
	if err != nil {
		return 0, err
	}
	_, err = db.write.ExecContext(ctx, `PRAGMA incremental_vacuum`)
	return removed, wrap(op, err)
}

func (w *work) trim(c home.Checkpoint) (int64, error) {
	source, ok := w.db.known(c.Source)
	if !ok {
		return 0, fmt.Errorf("source %q: %w", c.Source, home.ErrNotFound)
	}
	if _, err := w.ExecContext(w.ctx, `INSERT OR REPLACE INTO checkpoint (source, at, state, gain, base) VALUES (?,?,?,?,?)`,
		source, c.At.UnixMicro(), c.State, orNull(c.Gain), orNull(c.OffsetKg)); err != nil {
		return 0, err
	}
	load := quantityCodes[home.Load]
	res, err := w.ExecContext(w.ctx, `DELETE FROM reading WHERE source = ? AND quantity = ? AND at < ?`, source, load, c.At.UnixMicro())
	if err != nil {
		return 0, err
	}
	n, err := res.RowsAffected()
	if err != nil {
		return 0, err
	}
	_, err = w.ExecContext(w.ctx, `UPDATE series SET n = n - ?, first = max(first, ?) WHERE source = ? AND quantity = ?`,
		n, c.At.UnixMicro(), source, load)
	return n, err
}
