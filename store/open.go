package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"

	"github.com/gofrs/flock"
	_ "modernc.org/sqlite" // the database/sql driver "sqlite"

	"weighbeam/home"
)

var errInUse = errors.New("another process is using")

// InUse reports whether err says that another process has the store.
func InUse(err error) bool { return errors.Is(err, errInUse) }

// DB is the open store. Its methods may be called from many goroutines.
type DB struct {
	path  string
	write *sql.DB // one connection: SQLite has one writer
	read  *sql.DB
	lock  *flock.Flock

	damage atomic.Pointer[error] // set once: see Inspect

	mu      sync.Mutex
	slugs   slugs         // committed rows of the slug table
	changed chan struct{} // closed by the next commit
}

// Open opens the store at path, making it and its folder where they are
// missing, and brings an older file forward. It fails if another process has
// the file, if a newer version wrote it, or if it is damaged.
func Open(ctx context.Context, path string) (*DB, error) {
	db := &DB{path: path, slugs: newSlugs(), changed: make(chan struct{})}
	if err := db.open(ctx); err != nil {
		db.Close()
		return nil, err
	}
	return db, nil
}

func (db *DB) open(ctx context.Context) error {
	if err := os.MkdirAll(filepath.Dir(db.path), 0o700); err != nil {
		return &home.Error{Op: "open store", Hint: "Choose a folder you may write to, with --data or the key data.", Err: err}
	}
	db.lock = flock.New(db.path + ".lock")
	held, err := db.lock.TryLock()
	if err != nil {
		return &home.Error{Op: "open store", Hint: "Check that the folder is writable and on a local disk.", Err: err}
	}
	if !held {
		db.lock = nil
		return home.Hinted("open store", "Stop the other weighbeam first, or give this one a data folder of its own.",
			"%w %s", errInUse, db.path)
	}
	if err := private(db.path); err != nil {
		return &home.Error{Op: "open store", Hint: "Choose a file you may write to, with --data or the key data.", Err: err}
	}
	if db.write, err = connect(db.path, "_txlock=immediate&_pragma=auto_vacuum(2)"); err != nil {
		return err
	}
	db.write.SetMaxOpenConns(1)
	if err := migrate(ctx, db.write); err != nil {
		return damaged(db.path, err)
	}
	if db.read, err = connect(db.path, "_pragma=query_only(1)"); err != nil {
		return err
	}
	db.read.SetMaxOpenConns(4)
	return damaged(db.path, db.loadSlugs(ctx))
}

// private makes sure that a file is there. One that it makes is for its owner
// alone, which SQLite then does the same for its log.
func private(path string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// Peek opens the store at path for reading only, also while a program is writing
// to it. Every method that writes returns an error.
func Peek(ctx context.Context, path string) (*DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, &home.Error{Op: "read store", Hint: "Name the store with --data or the settings with --config.", Err: err}
	}
	db := &DB{path: path, slugs: newSlugs(), changed: make(chan struct{})}
	var err error
	if db.read, err = connect(path, "mode=rw&_pragma=query_only(1)"); err != nil {
		return nil, err
	}
	db.write = db.read // the database itself refuses
	var version int
	if err = db.read.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version); err == nil && version != schemaVersion() {
		err = home.Hinted("read store", "Start weighbeam once with this store: it brings an older file forward.",
			"the file has schema %d, this program reads %d", version, schemaVersion())
	}
	if err == nil {
		err = db.loadSlugs(ctx)
	}
	if err != nil {
		db.Close()
		return nil, damaged(path, err)
	}
	return db, nil
}

// connect opens a pool whose every connection has the settings that the
// package's guarantees rest on.
func connect(path, extra string) (*sql.DB, error) {
	dsn := "file:" + (&url.URL{Path: path}).EscapedPath() +
		"?" + extra + "&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)" +
		"&_pragma=journal_size_limit(16777216)" // what a large import wrote is not kept beside the store for ever
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, &home.Error{Op: "open store", Err: err}
	}
	return db, nil
}

// damaged adds what to do to an error met while opening a file.
func damaged(path string, err error) error {
	var hinted *home.Error
	if err == nil || errors.As(err, &hinted) {
		return err
	}
	return &home.Error{
		Op:   "open store",
		Hint: fmt.Sprintf("Stop weighbeam and restore a backup: weighbeam restore FILE. It keeps %s beside it.", path),
		Err:  err,
	}
}

func (db *DB) loadSlugs(ctx context.Context) error {
	rows, err := db.write.QueryContext(ctx, `SELECT id, text FROM slug`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id int64
		var text string
		if err := rows.Scan(&id, &text); err != nil {
			return err
		}
		db.slugs.add(text, id)
	}
	return rows.Err()
}

// Close closes the store and lets another process have the file.
func (db *DB) Close() error {
	var errs []error
	for _, pool := range []*sql.DB{db.read, db.write} {
		if pool != nil {
			errs = append(errs, pool.Close())
		}
	}
	if db.lock != nil {
		errs = append(errs, db.lock.Unlock())
	}
	return errors.Join(errs...)
}

// Path is where the store lies.
func (db *DB) Path() string { return db.path }

// Bytes is how much disk the store takes, its write-ahead log included.
func (db *DB) Bytes() int64 {
	var n int64
	for _, suffix := range []string{"", "-wal"} {
		if info, err := os.Stat(db.path + suffix); err == nil {
			n += info.Size()
		}
	}
	return n
}

// Changed returns a channel that is closed by the next commit.
func (db *DB) Changed() <-chan struct{} {
	db.mu.Lock()
	defer db.mu.Unlock()
	return db.changed
}
