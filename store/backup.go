package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/gofrs/flock"

	"weighbeam/home"
)

// Backup writes a copy of the store at path to the file to, while a program may
// be writing to it. The copy is of one moment, is checked after writing, and
// appears under its name whole or not at all. An existing file is not replaced.
func Backup(ctx context.Context, path, to string) error {
	const op = "back up"
	if _, err := os.Stat(path); err != nil {
		return &home.Error{Op: op, Hint: "Name the store with --data or the settings with --config.", Err: err}
	}
	if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
		return home.Hinted(op, "Give the backup a name of its own.", "%s is there already", to)
	}
	if info, err := os.Stat(filepath.Dir(to)); err != nil || !info.IsDir() {
		return home.Hinted(op, "Make it, or name another.", "there is no folder %s", filepath.Dir(to))
	}
	part := to + ".part"
	if err := os.Remove(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &home.Error{Op: op, Err: err}
	}
	if err := copyTo(ctx, path, part); err != nil {
		os.Remove(part) // half a backup is none
		return &home.Error{Op: op, Hint: "Check that the disk has room and the store can be read.", Err: err}
	}
	if err := os.Rename(part, to); err != nil {
		return &home.Error{Op: op, Err: err}
	}
	return syncFolder(op, to)
}

// copyTo makes the copy, reads it through and syncs it.
func copyTo(ctx context.Context, path, part string) error {
	db, err := connect(path, "mode=rw")
	if err != nil {
		return err
	}
	defer db.Close()
	if err := private(part); err != nil {
		return err
	}
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, part); err != nil {
		return err
	}
	if err := verify(ctx, part); err != nil {
		return err
	}
	return syncFile(part)
}

// verify reads a file through and refuses one that is damaged, not ours, or of a
// newer program.
func verify(ctx context.Context, path string) error {
	db, err := connect(path, "mode=ro&immutable=1")
	if err != nil {
		return err
	}
	defer db.Close()
	var version, app int
	if err := db.QueryRowContext(ctx, `PRAGMA user_version`).Scan(&version); err != nil {
		return err
	}
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&app); err != nil {
		return err
	}
	if app != applicationID || version < 1 {
		return fmt.Errorf("%s is no store of weighbeam", path)
	}
	if version > schemaVersion() {
		return fmt.Errorf("%s was written by a newer weighbeam", path)
	}
	var verdict string
	if err := db.QueryRowContext(ctx, `PRAGMA integrity_check(1)`).Scan(&verdict); err != nil {
		return err
	}
	if verdict != "ok" {
		return errors.New(verdict)
	}
	return nil
}

// Restore puts the backup from in the place of the store at path, and returns
// where the store that was there went, "" for none. No program may be using it.
func Restore(ctx context.Context, from, path string, now time.Time) (aside string, err error) {
	const op = "restore"
	if err := verify(ctx, from); err != nil {
		return "", &home.Error{Op: op, Hint: "This backup cannot be used: take another. Nothing was changed.", Err: err}
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return "", &home.Error{Op: op, Err: err}
	}
	lock := flock.New(path + ".lock")
	held, err := lock.TryLock()
	if err != nil {
		return "", &home.Error{Op: op, Err: err}
	}
	if !held {
		return "", home.Hinted(op, "Stop weighbeam, restore, and start it again.", "another process is using %s", path)
	}
	defer func() { err = errors.Join(err, lock.Unlock()) }()
	part := path + ".part"
	if err := rewritten(from, part, copied); err != nil {
		os.Remove(part) // half a store is none
		return "", &home.Error{Op: op, Hint: "Check that the disk has room.", Err: err}
	}
	if aside, err = setAsideStore(path, now); err != nil {
		return "", &home.Error{Op: op, Err: err}
	}
	if err := os.Rename(part, path); err != nil {
		return aside, &home.Error{Op: op, Err: err}
	}
	return aside, syncFolder(op, path)
}

// setAsideStore renames a store with its log, so that nothing is overwritten.
func setAsideStore(path string, now time.Time) (string, error) {
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	aside, err := freeName(path + ".before-" + now.UTC().Format("20060102T150405Z"))
	if err != nil {
		return "", err
	}
	for _, suffix := range []string{"-shm", "-wal", ""} {
		if err := os.Rename(path+suffix, aside+suffix); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
	}
	return aside, nil
}

// freeName is name, or with a number behind it where that is taken: two stores are put
// aside within a second.
func freeName(name string) (string, error) {
	free := name
	for n := 2; ; n++ {
		if _, err := os.Lstat(free); errors.Is(err, fs.ErrNotExist) {
			return free, nil
		} else if err != nil {
			return "", err
		}
		free = fmt.Sprintf("%s-%d", name, n)
	}
}

// rewritten makes the file to of what is in the file from, for its owner alone, and
// syncs it.
func rewritten(from, to string, write func(out io.Writer, in io.Reader) error) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, out.Close()) }()
	if err := write(out, in); err != nil {
		return err
	}
	return out.Sync()
}

func copied(out io.Writer, in io.Reader) error {
	_, err := io.Copy(out, in)
	return err
}

func syncFile(path string) (err error) {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return f.Sync()
}

// syncFolder makes a rename outlast the loss of power.
func syncFolder(op, path string) error {
	d, err := os.Open(filepath.Dir(path))
	if err != nil {
		return &home.Error{Op: op, Err: err}
	}
	defer d.Close()
	if err := d.Sync(); err != nil {
		return &home.Error{Op: op, Err: err}
	}
	return nil
}
