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
// transaction, and gives the room back to the disk. With it go the journal's entries
// of load that were followed: a scale that sends each second brings more of them than of
// anything else. It returns how many readings were removed.
func (db *DB) Trim(ctx context.Context, c home.Checkpoint) (removed int64, err error) {
	const op = "let go of old load"
	err = db.tx(ctx, op, func(w *work) (err error) {
		removed, err = w.trim(c)
		return err
	})
	if err != nil {
		return 0, err
	}
	if err := db.forget(ctx, op); err != nil {
		return removed, err
	}
	_, err = db.write.ExecContext(ctx, `PRAGMA incremental_vacuum`)
	return removed, wrap(op, err)
}

// forgotten is how many entries of the journal are removed in one transaction at most,
// so that readings need not wait long.
const forgotten = 20_000

// forget removes the journal's entries of load that all who are told of load have
// followed: those who make visits and those who watch. Until both have a place in the
// journal nothing goes. The mirror has no load and may be away for months. The newest
// entry stays, since its number is where the journal ends.
func (db *DB) forget(ctx context.Context, op string) error {
	for n := int64(forgotten); n == forgotten; {
		err := db.tx(ctx, op, func(w *work) error {
			res, err := w.ExecContext(ctx, `DELETE FROM journal WHERE id IN (SELECT id FROM journal
				WHERE id <= (SELECT iif(count(*) = 2, min(journal), 0) FROM cursor WHERE name IN ('weigh', 'watch'))
				AND id < (SELECT max(id) FROM journal) AND kind = ? AND quantity = ? LIMIT ?)`,
				string(home.OfReading), string(home.Load), forgotten)
			if err != nil {
				return err
			}
			n, err = res.RowsAffected()
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
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
