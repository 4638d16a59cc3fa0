package mqtt

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"weighbeam/home"
)

// remembered returns the filters that the broker may still hold for this session.
func (s *Session) remembered() ([]string, error) {
	s.mu.Lock()
	known := slices.Clone(s.health.Subscribed)
	s.mu.Unlock()
	if s.cfg.StateFile == "" {
		return known, nil
	}
	text, err := os.ReadFile(s.cfg.StateFile)
	if errors.Is(err, fs.ErrNotExist) {
		return known, nil
	}
	if err != nil {
		return nil, &home.Error{Op: "read subscriptions", Err: err}
	}
	var kept []string
	if err := json.Unmarshal(text, &kept); err != nil {
		return nil, home.Hinted("read subscriptions", "Delete the file: it only says what to unsubscribe.", "%s: %w", s.cfg.StateFile, err)
	}
	return union(known, kept), nil
}

// remember keeps known and wanted together, on disk where a file is named.
func (s *Session) remember(known []string, wanted []Filter) error {
	for _, f := range wanted {
		known = union(known, []string{f.Topic})
	}
	s.mu.Lock()
	s.health.Subscribed = slices.Clone(known)
	s.mu.Unlock()
	if s.cfg.StateFile == "" {
		return nil
	}
	text, err := json.Marshal(known)
	if err != nil {
		return err
	}
	if old, err := os.ReadFile(s.cfg.StateFile); err == nil && string(old) == string(text) {
		return nil
	}
	return replaceFile(s.cfg.StateFile, text)
}

func union(a, b []string) []string {
	all := append(slices.Clone(a), b...)
	slices.Sort(all)
	return slices.Compact(all)
}

// replaceFile writes a file whole or not at all: beside it, synced, then renamed,
// then the folder synced so that the new name is on disk as well.
func replaceFile(path string, text []byte) error {
	fail := func(err error) error {
		return &home.Error{Op: "keep subscriptions", Hint: "The folder must exist and be writable.", Err: err}
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*")
	if err != nil {
		return fail(err)
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(text)
	err = errors.Join(err, tmp.Sync(), tmp.Close())
	if err == nil {
		err = os.Rename(tmp.Name(), path)
	}
	if err != nil {
		return fail(err)
	}
	dir, err := os.Open(filepath.Dir(path))
	if err != nil {
		return fail(err)
	}
	defer dir.Close()
	if err := dir.Sync(); err != nil {
		return fail(fmt.Errorf("sync folder: %w", err))
	}
	return nil
}
