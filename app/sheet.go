package app

import (
	"context"
	"errors"
	"io"
	"strings"
	"time"

	"weighbeam/dashboards"
	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/store"
)

// WriteSheet writes the sheet for the practice from a store that may be in use:
// it only reads. It says what the pages of the running program say.
func WriteSheet(ctx context.Context, db *store.DB, cfg Config, opt Options, w io.Writer, r dashboards.SheetRequest) error {
	if opt.Now == nil {
		opt.Now = time.Now
	}
	watcher := watch.NewRunner(db, watch.Options{Detect: detect.Options{FalsePerCatYear: float64(cfg.Detect.FalseFindings)}, Now: opt.Now})
	if err := watcher.Look(ctx); err != nil {
		return err
	}
	cfg, err := cfg.WithStore(ctx, db)
	if err != nil {
		return err
	}
	a := &App{cfg: cfg, opt: opt, store: db}
	err = dashboards.Sheets(db, watcher, a.look())(ctx, w, r)
	if !errors.Is(err, home.ErrNotFound) {
		return err
	}
	h, errHouse := db.Household(ctx)
	if errHouse != nil {
		return errHouse
	}
	var ids []string
	for _, c := range h.Cats {
		ids = append(ids, c.ID)
	}
	hint := "Nobody lives in this house yet: give the store of another one with --data or --config."
	if len(ids) > 0 {
		hint = "The cats of this house are " + strings.Join(ids, ", ") + "."
	}
	return home.Hinted("write the sheet", hint, "there is no cat %q", r.Cat)
}
