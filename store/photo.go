package store

import (
	"context"
	"database/sql"
	"errors"

	"weighbeam/home"
)

func (a *appender) photo(p home.PhotoFile) error {
	_, err := a.ExecContext(a.ctx, `INSERT INTO photo (id, width, height, jpeg) VALUES (?,?,?,?) ON CONFLICT DO NOTHING`,
		p.ID, p.Width, p.Height, p.JPEG)
	return err
}

// Photo returns one picture; an error that wraps home.ErrNotFound for none.
func (db *DB) Photo(ctx context.Context, id string) (home.PhotoFile, error) {
	p := home.PhotoFile{ID: id}
	err := db.read.QueryRowContext(ctx, `SELECT width, height, jpeg FROM photo WHERE id = ?`, id).Scan(&p.Width, &p.Height, &p.JPEG)
	if errors.Is(err, sql.ErrNoRows) {
		err = home.ErrNotFound
	}
	return p, wrap("read photo", err)
}

// PhotoIDs lists the pictures that are kept.
func (db *DB) PhotoIDs(ctx context.Context) ([]string, error) {
	return list(ctx, db.read, "read photos", func(rows *sql.Rows) (id string, err error) {
		return id, rows.Scan(&id)
	}, `SELECT id FROM photo ORDER BY id`)
}
