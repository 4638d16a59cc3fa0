package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"time"

	"weighbeam/home"
)

// Household returns who lives in the house; an empty household where nobody was
// ever said to.
func (db *DB) Household(ctx context.Context) (home.Household, error) {
	var h home.Household
	var body string
	err := db.read.QueryRowContext(ctx, `SELECT body FROM household`).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return h, nil
	}
	if err != nil {
		return h, wrap("read household", err)
	}
	return h, wrap("read household", json.Unmarshal([]byte(body), &h))
}

// SetHousehold replaces who lives in the house. Nothing changes, and nobody is
// told, where h is what is kept already.
func (db *DB) SetHousehold(ctx context.Context, h home.Household) error {
	if err := h.Valid(); err != nil {
		return &home.Error{Op: "store household", Err: err}
	}
	body, err := json.Marshal(h)
	if err != nil {
		return wrap("store household", err)
	}
	return db.tx(ctx, "store household", func(w *work) error {
		res, err := w.ExecContext(ctx, `INSERT INTO household (id, body) VALUES (1, ?1)
			ON CONFLICT (id) DO UPDATE SET body = ?1 WHERE body <> ?1`, string(body))
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return err
		}
		return w.enter(home.Entry{Matter: home.OfHousehold, From: time.UnixMicro(0), To: time.UnixMicro(0), N: 1})
	})
}
