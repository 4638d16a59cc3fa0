package ingest

import (
	"maps"
	"slices"
	"sync"
	"time"

	"weighbeam/home"
)

// Counts is what came in by one way since the program started. Received counts
// what was committed; it is the sum of the others at every moment.
type Counts struct {
	Received  int64
	Stored    int64
	Duplicate int64
	SetAside  int64
}

func (c *Counts) add(received int, t home.Tally) {
	c.Received += int64(received)
	c.Stored += int64(t.Stored)
	c.Duplicate += int64(t.Duplicate)
	c.SetAside += int64(t.SetAside)
}

// Health is how the committer stands.
type Health struct {
	LastCommit time.Time     // zero for never
	Oldest     time.Duration // age of the oldest delivery in hand, 0 where there is none
	Queue      int           // deliveries that wait
	Failing    string        // what the store said, "" while it takes readings
	Since      time.Time     // when it began to fail
	Failures   int64         // refusals since the start
}

// stats holds everything that is counted behind one lock, so that every look
// at it is a moment that was.
type stats struct {
	mu      sync.Mutex
	ways    map[string]Counts
	health  Health
	holding time.Time // arrival of the oldest delivery in hand
	commits histogram
}

func newStats() *stats {
	return &stats{ways: map[string]Counts{}, commits: newHistogram()}
}

// committed counts a commit and returns for how long the store had refused before it.
func (s *stats) committed(way string, received int, t home.Tally, now time.Time, took time.Duration) time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.ways[way]
	c.add(received, t)
	s.ways[way] = c
	s.commits.observe(took.Seconds())
	s.health.LastCommit = now
	if s.health.Failing == "" {
		return 0
	}
	s.health.Failing = ""
	return max(now.Sub(s.health.Since), 1)
}

// failed notes a refusal and reports whether it is the first in a row.
func (s *stats) failed(err error, now time.Time) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.health.Failures++
	first := s.health.Failing == ""
	if first {
		s.health.Since = now
	}
	s.health.Failing = err.Error()
	return first
}

// holds notes the batch in hand; nil for none.
func (s *stats) holds(batch []read, now time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.holding = time.Time{}
	if len(batch) > 0 {
		s.holding = now
	}
}

// Counts returns what came in by each way, all at one moment.
func (a *Appender) Counts() map[string]Counts {
	a.stats.mu.Lock()
	defer a.stats.mu.Unlock()
	return maps.Clone(a.stats.ways)
}

// Health returns how the committer stands.
func (a *Appender) Health() Health {
	a.stats.mu.Lock()
	defer a.stats.mu.Unlock()
	h := a.stats.health
	h.Queue = len(a.queue.items)
	if !a.stats.holding.IsZero() {
		h.Oldest = time.Since(a.stats.holding)
	}
	return h
}

// histogram counts commits by how long they took, cumulative as Prometheus wants it.
type histogram struct {
	counts map[float64]uint64 // by upper bound in seconds
	bounds []float64
	n      uint64
	sum    float64
}

func newHistogram() histogram {
	h := histogram{counts: map[float64]uint64{}}
	for bound := 0.0005; bound < 20; bound *= 2 {
		h.counts[bound] = 0
	}
	h.bounds = slices.Sorted(maps.Keys(h.counts))
	return h
}

func (h *histogram) observe(seconds float64) {
	h.n++
	h.sum += seconds
	for _, bound := range h.bounds {
		if seconds <= bound {
			h.counts[bound]++
		}
	}
}
