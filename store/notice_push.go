package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

// PushKeys returns the key pair by which push services know this house, or
// home.ErrNotFound where it was never made.
func (db *DB) PushKeys(ctx context.Context) (private, public string, err error) {
	err = db.read.QueryRowContext(ctx, `SELECT private, public FROM push_key`).Scan(&private, &public)
	if errors.Is(err, sql.ErrNoRows) {
		return "", "", fmt.Errorf("push keys: %w", home.ErrNotFound)
	}
	return private, public, wrap("read the push keys", err)
}

// MakePushKeys returns the key pair, made by make at the first call and the same
// ever after.
func (db *DB) MakePushKeys(ctx context.Context, make func() (private, public string, err error)) (private, public string, err error) {
	err = db.tx(ctx, "read the push keys", func(w *work) error {
		err := w.QueryRowContext(ctx, `SELECT private, public FROM push_key`).Scan(&private, &public)
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
		if private, public, err = make(); err != nil {
			return err
		}
		_, err = w.ExecContext(ctx, `INSERT INTO push_key (id, private, public) VALUES (1, ?, ?)`, private, public)
		return err
	})
	return private, public, err
}

// Subscribe keeps a browser that wants to be told, in place of what was kept
// under its endpoint before.
func (db *DB) Subscribe(ctx context.Context, s home.Subscription) error {
	if err := s.Valid(); err != nil {
		return &home.Error{Op: "store a subscription", Err: err}
	}
	return db.tx(ctx, "store a subscription", func(w *work) error {
		_, err := w.ExecContext(ctx, `INSERT OR REPLACE INTO push_subscription (endpoint, channel, key, auth, added) VALUES (?,?,?,?,?)`,
			s.Endpoint, s.Channel, s.Key, s.Auth, s.Added.UnixMicro())
		return err
	})
}

// Unsubscribe forgets a browser; one that is not there is no error.
func (db *DB) Unsubscribe(ctx context.Context, endpoint string) error {
	return db.tx(ctx, "forget a subscription", func(w *work) error {
		_, err := w.ExecContext(ctx, `DELETE FROM push_subscription WHERE endpoint = ?`, endpoint)
		return err
	})
}

// Subscriptions returns the browsers that want to be told, the oldest first.
func (db *DB) Subscriptions(ctx context.Context) ([]home.Subscription, error) {
	return list(ctx, db.read, "read subscriptions", func(rows *sql.Rows) (home.Subscription, error) {
		var s home.Subscription
		var added int64
		err := rows.Scan(&s.Endpoint, &s.Channel, &s.Key, &s.Auth, &added)
		s.Added = time.UnixMicro(added).UTC()
		return s, err
	}, `SELECT endpoint, channel, key, auth, added FROM push_subscription ORDER BY added, endpoint`)
}
