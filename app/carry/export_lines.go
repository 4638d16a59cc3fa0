package carry

import (
	"bufio"
	"cmp"
	"context"
	"encoding/json"
	"io"

	"weighbeam/home"
	"weighbeam/store"
)

// ExportLines writes everything that devices and people said as JSON lines: the
// household, how true the scales are, readings in time order, photos, home checks,
// what was done with the cats, what was corrected of it, and last whose visits were
// and what was said to findings. n counts the lines after the household.
func ExportLines(ctx context.Context, db *store.DB, w io.Writer) (n int, err error) {
	buf := bufio.NewWriter(w)
	out := lineWriter{ctx: ctx, db: db, enc: json.NewEncoder(buf)}
	// A check carries its own readings; written with it, they are not written twice.
	checks, err := db.EveryCheck(ctx, "")
	if err != nil {
		return 0, err
	}
	err = cmp.Or(out.household(), out.calibrations(), out.readings(checks), out.photos())
	for i := 0; i < len(checks) && err == nil; i++ {
		err = out.line(line{Check: &checks[i]})
	}
	return out.n, cmp.Or(err, out.care(), out.corrections(), out.namings(), out.reactions(), buf.Flush())
}

type lineWriter struct {
	ctx context.Context
	db  *store.DB
	enc *json.Encoder
	n   int
}

func (w *lineWriter) line(l line) error {
	w.n++
	return cmp.Or(w.ctx.Err(), w.enc.Encode(l))
}

func (w *lineWriter) household() error {
	h, err := w.db.Household(w.ctx)
	return cmp.Or(err, w.enc.Encode(line{Household: &h}))
}

func (w *lineWriter) calibrations() error {
	all, err := w.db.Calibrations(w.ctx, "")
	for i := 0; i < len(all) && err == nil; i++ {
		err = w.line(line{Calibration: &all[i]})
	}
	return err
}

func (w *lineWriter) readings(checks []home.HomeCheck) error {
	own := map[home.Reading]bool{}
	for _, c := range checks {
		for _, r := range c.Readings {
			own[r] = true
		}
	}
	return w.db.EveryReading(w.ctx, func(r home.Reading) error {
		if own[r] {
			return nil
		}
		return w.line(line{Reading: &r})
	})
}

func (w *lineWriter) photos() error {
	ids, err := w.db.PhotoIDs(w.ctx)
	for i := 0; i < len(ids) && err == nil; i++ {
		var p home.PhotoFile
		if p, err = w.db.Photo(w.ctx, ids[i]); err == nil {
			err = w.line(line{Photo: &p})
		}
	}
	return err
}

func (w *lineWriter) care() error {
	all, err := w.db.EveryCare(w.ctx, "")
	for i := 0; i < len(all) && err == nil; i++ {
		err = w.line(line{Care: &all[i]})
	}
	return err
}

func (w *lineWriter) corrections() error {
	all, err := w.db.Corrections(w.ctx, "")
	for i := 0; i < len(all) && err == nil; i++ {
		err = w.line(line{Correction: &all[i]})
	}
	return err
}

func (w *lineWriter) namings() error {
	all, err := w.db.Namings(w.ctx)
	for i := 0; i < len(all) && err == nil; i++ {
		err = w.line(line{Naming: &all[i]})
	}
	return err
}

func (w *lineWriter) reactions() error {
	all, err := w.db.EveryReaction(w.ctx)
	for i := 0; i < len(all) && err == nil; i++ {
		err = w.line(line{Reaction: &all[i]})
	}
	return err
}
