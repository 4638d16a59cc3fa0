package app

import (
	"context"
	"time"

	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/store"
	"weighbeam/store/mirror"
	"weighbeam/store/mirror/history"
)

// newMirror is the mirror that the settings name.
func (c Config) newMirror(from mirror.Store, trend func(string) []home.TrendPoint) (*mirror.Mirror, error) {
	if c.Influx == nil {
		return nil, home.Hinted("set up the mirror", "Write url and bucket under [influx].", "the settings name no engine")
	}
	token, err := secret(c.Influx.TokenFile)
	if err != nil {
		return nil, err
	}
	i := c.Influx
	return mirror.New(from, mirror.Config{URL: i.URL, Token: token, Org: i.Org, Bucket: i.Bucket, Site: i.Site, Trend: trend})
}

// startMirror follows the store into a time-series engine, where the settings name one.
func (a *App) startMirror(context.Context) error {
	if a.cfg.Influx == nil {
		return nil
	}
	m, err := a.cfg.newMirror(a.store, a.watcher.Trend)
	if err != nil {
		return err
	}
	a.mirror = m
	a.onStop(m.Close)
	f := a.follower(mirror.CursorName, m.Round)
	a.stages = append(a.stages, f)
	a.spawn(f.Run)
	return nil
}

// RebuildMirror writes everything in the store to the engine of the settings once
// more, also while a program runs. told is called with how many journal entries of
// how many are done.
func RebuildMirror(ctx context.Context, cfg Config, told func(done, all int64)) error {
	db, err := store.Peek(ctx, cfg.Data)
	if err != nil {
		return err
	}
	defer db.Close()
	watcher := watch.NewRunner(db, watch.Options{Now: time.Now, Detect: detect.Options{FalsePerCatYear: float64(cfg.Detect.FalseFindings)}})
	if err := watcher.Look(ctx); err != nil {
		return err
	}
	m, err := cfg.newMirror(db, watcher.Trend)
	if err != nil {
		return err
	}
	defer m.Close()
	all, err := db.JournalEnd(ctx)
	if err != nil {
		return err
	}
	return m.Rebuild(ctx, func(done int64) { told(done, all) })
}

// MirrorBehind is how many journal entries the mirror has still to write, and
// whether the engine answers.
func MirrorBehind(ctx context.Context, cfg Config) (behind int64, err error) {
	db, err := store.Peek(ctx, cfg.Data)
	if err != nil {
		return 0, err
	}
	defer db.Close()
	m, err := cfg.newMirror(db, nil)
	if err != nil {
		return 0, err
	}
	defer m.Close()
	cursor, err := db.Cursor(ctx, mirror.CursorName)
	if err != nil {
		return 0, err
	}
	end, err := db.JournalEnd(ctx)
	if err != nil {
		return 0, err
	}
	return end - cursor.Journal, m.Ask(ctx)
}

// HistoryConfig is the engine of [influx], for reading.
func (c Config) HistoryConfig() (history.Config, error) {
	if c.Influx == nil {
		return history.Config{}, home.Hinted("import", "Write url and token_file under [influx], or name a settings file with --config.", "the settings name no engine")
	}
	token, err := secret(c.Influx.TokenFile)
	return history.Config{URL: c.Influx.URL, Token: token, Org: c.Influx.Org}, err
}
