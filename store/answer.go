package store

import (
	"context"
	"database/sql"
	"errors"

	"weighbeam/home"
)

// keptAnswers is how many answers are kept; the oldest go.
const keptAnswers = 10_000

// Answer returns what was answered to the request with that key.
func (db *DB) Answer(ctx context.Context, key home.Hash) (a home.Answer, found bool, err error) {
	a.Key = key
	var request []byte
	err = db.read.QueryRowContext(ctx, `SELECT request, status, type, body FROM answer WHERE key = ?`, key[:]).
		Scan(&request, &a.Status, &a.Type, &a.Body)
	if errors.Is(err, sql.ErrNoRows) {
		return home.Answer{}, false, nil
	}
	if err != nil {
		return home.Answer{}, false, &home.Error{Op: "read an answer", Err: err}
	}
	copy(a.Request[:], request)
	return a, true, nil
}

// answer keeps what is answered; the first answer to a key stands.
func (a *appender) answer(n home.Answer) error {
	if n.Fill != nil {
		n.Fill(&n)
	}
	if _, err := a.ExecContext(a.ctx, `INSERT INTO answer (key, request, status, type, body) VALUES (?,?,?,?,?) ON CONFLICT DO NOTHING`,
		n.Key[:], n.Request[:], n.Status, n.Type, n.Body); err != nil {
		return err
	}
	_, err := a.ExecContext(a.ctx, `DELETE FROM answer WHERE id <= (SELECT max(id) FROM answer) - ?`, keptAnswers)
	return err
}
