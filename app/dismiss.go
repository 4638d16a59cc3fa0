package app

import (
	"context"
	"path/filepath"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/store"
)

// dismissPage is how much of what waits is held at a time.
const dismissPage = 32

// dismiss ends the wait of what which picks, where it did not come again after seen.
func dismiss(ctx context.Context, db *store.DB, which func(home.SetAside) bool, seen time.Time) (n int64, err error) {
	for after := int64(0); ; {
		page, err := db.SetAsidesAfter(ctx, after, dismissPage)
		if err != nil || len(page) == 0 {
			return n, err
		}
		after = page[len(page)-1].ID
		var ids []int64
		for _, s := range page {
			if which(s) {
				ids = append(ids, s.ID)
			}
		}
		if len(ids) == 0 {
			continue
		}
		done, err := db.Dismiss(ctx, ids, seen)
		if n += done; err != nil {
			return n, err
		}
	}
}

// Dismiss ends the wait of what was set aside of a topic, or of an imported file, where
// it did not come again after seen.
func (a *App) Dismiss(ctx context.Context, of string, seen time.Time) (int64, error) {
	n, err := dismiss(ctx, a.store, func(s home.SetAside) bool { return s.Of() == of }, seen)
	if err == nil {
		a.opt.Log.InfoContext(ctx, "what was set aside is dismissed", "of", of, "n", n)
	}
	return n, err
}

// DismissStopped is Dismiss on the store of a program that does not run; which may be an
// MQTT filter as well, or the path of a file.
func DismissStopped(ctx context.Context, db *store.DB, which string) (int64, error) {
	return dismiss(ctx, db, func(s home.SetAside) bool { return Picks(which, s) }, time.Time{})
}

// Picks reports whether which, a topic, an MQTT filter or the path of a file that was
// imported, stands for s.
func Picks(which string, s home.SetAside) bool {
	return s.Of() == which || s.Way == home.Imported && s.Of() == filepath.Base(which) || ingest.Match(which, s.Topic)
}
