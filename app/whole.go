package app

import (
	"cmp"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
)

// wholeFile is the path of a file that is written whole or not at all, and is on the
// disk once it is.
type wholeFile string

// Recall is what it holds, nil where it is not there yet.
func (f wholeFile) Recall() ([]byte, error) {
	text, err := os.ReadFile(string(f))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	return text, err
}

// Remember puts text in its place: beside it, synced, then renamed, then the folder
// synced so that the new name is on disk as well. A file that is there keeps its mode;
// a new one is for its owner alone.
func (f wholeFile) Remember(text []byte) error {
	path, mode := string(f), fs.FileMode(0o600)
	if to, err := filepath.EvalSymlinks(path); err == nil { // the file itself, not what points to it
		path = to
	}
	switch info, err := os.Stat(path); {
	case err == nil:
		mode = info.Mode().Perm()
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	part, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer os.Remove(part.Name()) // nothing is there once it is renamed
	_, err = part.Write(text)
	if err := cmp.Or(err, part.Chmod(mode), part.Sync(), part.Close()); err != nil {
		return err
	}
	if err := os.Rename(part.Name(), path); err != nil || runtime.GOOS == "windows" { // which syncs no folder
		return err
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	defer folder.Close()
	return folder.Sync()
}
