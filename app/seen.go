package app

import (
	"context"
	"time"

	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/store"
)

// seenStore is the store for who draws: what the watcher has in memory already is not
// read again, which for ten years of weighings is most of the time that a page takes.
// Until the watcher has caught up, the store answers.
type seenStore struct {
	*store.DB
	watcher *watch.Runner
}

// Weighings is as of the store.
func (s seenStore) Weighings(ctx context.Context, cat string, from, to time.Time) ([]home.Weighing, error) {
	if all, ok := s.watcher.Weighings(cat, from, to); ok {
		return all, nil
	}
	return s.DB.Weighings(ctx, cat, from, to)
}

// VisitsOf is as of the store.
func (s seenStore) VisitsOf(ctx context.Context, cat string, from, to time.Time) ([]home.Visit, error) {
	if all, ok := s.watcher.VisitsOf(cat, from, to); ok {
		return all, nil
	}
	return s.DB.VisitsOf(ctx, cat, from, to)
}
