package ingest_test

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"strconv"
	"strings"
	"sync"

	"weighbeam/home"
)

// fileStore keeps the sequence numbers of readings in a file that is synced at
// each commit: as slow as a commit must be, and there after the process is killed.
type fileStore struct {
	mu   sync.Mutex
	file *os.File
	seen map[int64]bool
	buf  []byte
	n    int // commits
}

func openFileStore(path string) (*fileStore, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, err
	}
	seen, whole, err := scan(f)
	if err != nil {
		return nil, err
	}
	if err := f.Truncate(whole); err != nil {
		return nil, err
	}
	_, err = f.Seek(whole, 0)
	return &fileStore{file: f, seen: seen}, err
}

// readFileStore returns what is stored, beside a program that may be writing.
func readFileStore(path string) (map[int64]bool, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	seen, _, err := scan(f)
	return seen, err
}

// scan reads whole lines; one that was cut off was not committed. A number that is
// there twice is an error.
func scan(f *os.File) (seen map[int64]bool, whole int64, err error) {
	seen = map[int64]bool{}
	for r := bufio.NewReader(f); ; {
		line, err := r.ReadString('\n')
		if err != nil {
			return seen, whole, nil
		}
		seq, err := strconv.ParseInt(strings.TrimSpace(line), 10, 64)
		if err != nil {
			return nil, 0, err
		}
		if seen[seq] {
			return nil, 0, fmt.Errorf("%d is stored twice", seq)
		}
		seen[seq] = true
		whole += int64(len(line))
	}
}

func (s *fileStore) Append(_ context.Context, b home.Batch) (home.Tally, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	t := home.Tally{SetAside: len(b.SetAside)}
	s.buf = s.buf[:0]
	for _, r := range b.Readings {
		if s.seen[r.Seq] {
			t.Duplicate++
			continue
		}
		s.seen[r.Seq] = true
		s.buf = fmt.Appendln(s.buf, r.Seq)
		t.Stored++
	}
	s.n++
	if _, err := s.file.Write(s.buf); err != nil {
		return home.Tally{}, err
	}
	return t, s.file.Sync()
}

func (s *fileStore) stored() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.seen)
}
