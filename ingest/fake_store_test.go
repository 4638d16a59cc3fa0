package ingest_test

import (
	"context"
	"errors"
	"fmt"
	"sync"

	"weighbeam/home"
)

// fakeStore keeps readings by identity in memory, as the real store does on disk,
// and fails, holds or refuses as a test tells it to.
type fakeStore struct {
	mu       sync.Mutex
	readings map[identity]home.Reading
	aside    []home.SetAside
	batches  []int // deliveries' worth of each commit
	fail     error
	refuse   func(home.Batch) error // asked for each batch
	hold     chan struct{}          // commits wait while it is open
	calls    int
}

type identity struct {
	source   string
	quantity home.Quantity
	time     int64
	seq      int64
}

var errFull = errors.New("database or disk is full")

func newFakeStore() *fakeStore { return &fakeStore{readings: map[identity]home.Reading{}} }

func (s *fakeStore) Append(ctx context.Context, b home.Batch) (home.Tally, error) {
	s.mu.Lock()
	hold := s.hold
	s.mu.Unlock()
	if hold != nil {
		select {
		case <-hold:
		case <-ctx.Done():
			return home.Tally{}, ctx.Err()
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.calls++
	if s.fail != nil {
		return home.Tally{}, s.fail
	}
	if s.refuse != nil {
		if err := s.refuse(b); err != nil {
			return home.Tally{}, err
		}
	}
	var t home.Tally
	for i, r := range b.Readings {
		id := identity{r.Source, r.Quantity, r.Time.UnixMicro(), r.Seq}
		if was, ok := s.readings[id]; ok {
			if was.Value == r.Value {
				t.Duplicate++
				continue
			}
			t.SetAside++
			if b.Refused != nil {
				b.Refused(i, fmt.Sprint("it said ", was.Value))
			}
			continue
		}
		s.readings[id] = r
		t.Stored++
	}
	s.aside = append(s.aside, b.SetAside...)
	t.SetAside += len(b.SetAside)
	s.batches = append(s.batches, len(b.Readings)+len(b.SetAside))
	return t, nil
}

func (s *fakeStore) failWith(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fail = err
}

// holding makes commits wait until the returned function is called.
func (s *fakeStore) holding() (release func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	hold := make(chan struct{})
	s.hold = hold
	return sync.OnceFunc(func() {
		s.mu.Lock()
		s.hold = nil
		s.mu.Unlock()
		close(hold)
	})
}

func (s *fakeStore) stored() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.readings)
}

func (s *fakeStore) called() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.calls
}

func (s *fakeStore) setAsides() []home.SetAside {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]home.SetAside{}, s.aside...)
}

// has reports whether a reading with that sequence number is stored.
func (s *fakeStore) has(seq int64) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id := range s.readings {
		if id.seq == seq {
			return true
		}
	}
	return false
}
