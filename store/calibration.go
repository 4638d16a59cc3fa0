package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"

	"weighbeam/home"
)

// Calibrate keeps a calibration beside those made before. The same one sent twice
// is one.
func (db *DB) Calibrate(ctx context.Context, c home.Calibration) error {
	const op = "store a calibration"
	if err := c.Valid(); err != nil {
		return &home.Error{Op: op, Hint: "Take the readings again.", Err: err}
	}
	c.At, c.From = c.At.UTC().Truncate(home.TimeStep), c.From.UTC().Truncate(home.TimeStep)
	body, err := json.Marshal(c)
	if err != nil {
		return wrap(op, err)
	}
	return db.tx(ctx, op, func(w *work) error {
		source, err := w.slug(c.Source)
		if err != nil {
			return err
		}
		res, err := w.ExecContext(ctx, `INSERT INTO calibration (source, at, applies, body) VALUES (?,?,?,?) ON CONFLICT DO NOTHING`,
			source, c.At.UnixMicro(), c.From.UnixMicro(), string(body))
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return err
		}
		return w.enter(home.Entry{Matter: home.OfCalibration, Source: c.Source, From: c.From, To: c.At, N: 1})
	})
}

// Calibrations returns what was made of one source ("" for all), oldest first.
func (db *DB) Calibrations(ctx context.Context, source string) ([]home.Calibration, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read calibrations", func(rows *sql.Rows) (home.Calibration, error) {
		var c home.Calibration
		var body string
		if err := rows.Scan(&body); err != nil {
			return c, err
		}
		if err := json.Unmarshal([]byte(body), &c); err != nil {
			return c, fmt.Errorf("a calibration: %w", err)
		}
		return c, nil
	}, `SELECT c.body FROM calibration c JOIN slug s ON s.id = c.source WHERE ?1 = 0 OR c.source = ?1 ORDER BY c.at, s.text`, id)
}
