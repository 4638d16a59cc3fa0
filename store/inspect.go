package store

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// errDamaged is wrapped by what says that the file is not as SQLite wrote it.
var errDamaged = errors.New("the file is damaged")

// Check runs the database's own integrity check and returns what it finds wrong.
func (db *DB) Check(ctx context.Context) error {
	var verdict string
	if err := db.read.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&verdict); err != nil {
		if corrupt(err) {
			err = fmt.Errorf("%w: %w", errDamaged, err)
		}
		return damaged(db.path, err)
	}
	if verdict != "ok" {
		return damaged(db.path, fmt.Errorf("%w: %s", errDamaged, strings.Join(strings.Fields(verdict), " ")))
	}
	return nil
}

// Inspect is Check for a store in use: once damage was found nothing more is written, for
// what is written into a damaged file may be lost, and what is acknowledged must not be.
func (db *DB) Inspect(ctx context.Context) error {
	err := db.Check(ctx)
	if errors.Is(err, errDamaged) {
		db.damage.Store(&err)
	}
	return err
}

// Damage is what Inspect found; nil for nothing.
func (db *DB) Damage() error {
	if err := db.damage.Load(); err != nil {
		return *err
	}
	return nil
}

func corrupt(err error) bool {
	var bad *sqlite.Error
	return errors.As(err, &bad) && bad.Code()&0xff == sqlite3.SQLITE_CORRUPT
}
