package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"weighbeam/home"
)

// tx runs f in one write transaction and tells those who wait on Changed.
func (db *DB) tx(ctx context.Context, op string, f func(*work) error) error {
	if err := db.Damage(); err != nil {
		return err
	}
	tx, err := db.write.BeginTx(ctx, nil)
	if err != nil {
		return &home.Error{Op: op, Err: err}
	}
	defer tx.Rollback() // a no-op once committed
	w := &work{Tx: tx, ctx: ctx, db: db, ready: map[string]*sql.Stmt{}}
	if err := f(w); err != nil {
		return &home.Error{Op: op, Err: judged(err)}
	}
	if err := db.commit(w); err != nil {
		return &home.Error{Op: op, Hint: "Check that the disk has room.", Err: err}
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	close(db.changed)
	db.changed = make(chan struct{})
	return nil
}

// judged marks an error that comes back however often the same is tried: what was
// given breaks a rule of the schema. A full disk, a lock, a failing file do not count.
func judged(err error) error {
	var refused *sqlite.Error
	if !errors.As(err, &refused) {
		return err
	}
	switch refused.Code() & 0xff { // without the detail of extended codes
	case sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_MISMATCH, sqlite3.SQLITE_TOOBIG, sqlite3.SQLITE_RANGE:
		return fmt.Errorf("%w: %w", home.ErrUnfit, err)
	}
	return err
}

// commit commits w and makes its new slugs known at the same moment: who has read
// of a source in the journal asks for its readings next, and would be told that
// there are none. The few commits that bring a slug let others wait.
func (db *DB) commit(w *work) error {
	if len(w.slugs) == 0 {
		return w.Commit()
	}
	db.mu.Lock()
	defer db.mu.Unlock()
	if err := w.Commit(); err != nil {
		return err
	}
	for text, id := range w.slugs {
		db.slugs.add(text, id)
	}
	return nil
}

// work is one write transaction. Slugs it adds become known to the store only
// when it commits. What it is asked to run it prepares once, since a batch runs the
// same for each reading, and parsing takes longer than running.
type work struct {
	*sql.Tx
	ctx   context.Context
	db    *DB
	slugs map[string]int64
	ready map[string]*sql.Stmt // by their text; closed with the transaction
}

func (w *work) prepared(ctx context.Context, query string) (*sql.Stmt, error) {
	if s := w.ready[query]; s != nil {
		return s, nil
	}
	s, err := w.PrepareContext(ctx, query)
	if err == nil {
		w.ready[query] = s
	}
	return s, err
}

// ExecContext runs one statement.
func (w *work) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	s, err := w.prepared(ctx, query)
	if err != nil {
		return nil, err
	}
	return s.ExecContext(ctx, args...)
}

// QueryRowContext asks for one row, which is to be scanned before the next.
func (w *work) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	s, err := w.prepared(ctx, query)
	if err != nil {
		return w.Tx.QueryRowContext(ctx, query, args...) // fails the same, and says so when scanned
	}
	return s.QueryRowContext(ctx, args...)
}
