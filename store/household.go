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
	h, err := readHousehold(ctx, db.read)
	return h, wrap("read household", err)
}

// rower is the database, or a transaction on it.
type rower interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

func readHousehold(ctx context.Context, from rower) (h home.Household, err error) {
	var body string
	err = from.QueryRowContext(ctx, `SELECT body FROM household`).Scan(&body)
	if errors.Is(err, sql.ErrNoRows) {
		return h, nil
	}
	if err != nil {
		return h, err
	}
	return h, json.Unmarshal([]byte(body), &h)
}

// Secret is the password of a contact, or its address where that holds a token.
type Secret struct{ Contact, Text string }

// SetHousehold replaces who lives in the house and who is told, with the secrets that
// are new, and forgets those of who is told no more. Nobody who follows the journal is
// told where only the contacts are others, or nothing is.
func (db *DB) SetHousehold(ctx context.Context, h home.Household, secrets ...Secret) error {
	if err := h.Valid(); err != nil {
		return &home.Error{Op: "store household", Err: err}
	}
	body, err := json.Marshal(h)
	if err != nil {
		return wrap("store household", err)
	}
	return db.tx(ctx, "store household", func(w *work) error {
		before, err := readHousehold(ctx, w)
		if err != nil {
			return err
		}
		for _, s := range secrets {
			if _, err := w.ExecContext(ctx, `INSERT OR REPLACE INTO secret (contact, body) VALUES (?,?)`, s.Contact, s.Text); err != nil {
				return err
			}
		}
		if err := w.forget(h); err != nil {
			return err
		}
		if _, err := w.ExecContext(ctx, `INSERT INTO household (id, body) VALUES (1, ?1) ON CONFLICT (id) DO UPDATE SET body = ?1`, string(body)); err != nil {
			return err
		}
		if h.SameHome(before) {
			return nil
		}
		return w.enter(home.Entry{Matter: home.OfHousehold, From: time.UnixMicro(0), To: time.UnixMicro(0), N: 1})
	})
}

// forget drops the secrets of those whom h does not name.
func (w *work) forget(h home.Household) error {
	ids := []string{}
	for _, c := range h.Contacts {
		ids = append(ids, c.ID)
	}
	named, err := json.Marshal(ids)
	if err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `DELETE FROM secret WHERE contact NOT IN (SELECT value FROM json_each(?))`, string(named))
	return err
}

// Secrets returns the secret of each contact that has one.
func (db *DB) Secrets(ctx context.Context) (map[string]string, error) {
	all := map[string]string{}
	_, err := list(ctx, db.read, "read secrets", func(rows *sql.Rows) (struct{}, error) {
		var contact, body string
		err := rows.Scan(&contact, &body)
		all[contact] = body
		return struct{}{}, err
	}, `SELECT contact, body FROM secret`)
	return all, err
}
