package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"weighbeam/home"
)

// Name keeps what a person said of a visit, in place of what was said before.
func (db *DB) Name(ctx context.Context, s home.Naming) error {
	return db.tx(ctx, "store whose a visit was", func(w *work) error {
		source, ok := db.known(s.Source)
		if !ok {
			return fmt.Errorf("visit of %q: %w", s.Source, home.ErrNotFound)
		}
		var there int
		err := w.QueryRowContext(ctx, `SELECT count(*) FROM visit WHERE source = ? AND start = ?`, source, s.Start.UnixMicro()).Scan(&there)
		if err != nil {
			return err
		}
		if there == 0 {
			return fmt.Errorf("visit of %s at %s: %w", s.Source, s.Start.Format(time.RFC3339), home.ErrNotFound)
		}
		return w.name(s)
	})
}

// ImportNaming keeps what a person said of a visit that is still to be made from
// the loads. What was said later stays.
func (db *DB) ImportNaming(ctx context.Context, s home.Naming) error {
	if err := s.Valid(); err != nil {
		return &home.Error{Op: "import whose a visit was", Err: err}
	}
	return db.tx(ctx, "import whose a visit was", func(w *work) error {
		var later int
		err := w.QueryRowContext(ctx, `SELECT count(*) FROM naming d JOIN slug s ON s.id = d.source WHERE s.text = ? AND d.start = ? AND d.at >= ?`,
			s.Source, s.Start.UnixMicro(), s.At.UnixMicro()).Scan(&later)
		if err != nil || later > 0 {
			return err
		}
		return w.name(s)
	})
}

func (w *work) name(s home.Naming) error {
	source, err := w.slug(s.Source)
	if err != nil {
		return err
	}
	cat, err := w.slug(s.Cat)
	if err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `INSERT OR REPLACE INTO naming (source, start, cat, by_whom, at) VALUES (?,?,?,?,?)`,
		source, s.Start.UnixMicro(), cat, s.By, s.At.UnixMicro())
	if err != nil {
		return err
	}
	return w.enter(home.Entry{Matter: home.OfNaming, Source: s.Source, From: s.Start, To: s.Start, N: 1})
}

// Namings returns all that people said of visits, by start.
func (db *DB) Namings(ctx context.Context) ([]home.Naming, error) {
	return list(ctx, db.read, "read namings", func(rows *sql.Rows) (home.Naming, error) {
		var s home.Naming
		var start, at int64
		err := rows.Scan(&s.Source, &start, &s.Cat, &s.By, &at)
		s.Start, s.At = time.UnixMicro(start).UTC(), time.UnixMicro(at).UTC()
		return s, err
	}, `SELECT s.text, d.start, c.text, d.by_whom, d.at FROM naming d JOIN slug s ON s.id = d.source JOIN slug c ON c.id = d.cat
		ORDER BY d.start, s.text`)
}

// React keeps what a person said to a finding, and with it the notices as they stand
// from then on: one that still waits and was never tried is changed, one that is new is
// entered. The same reaction sent twice is one, and changes no notice again.
func (db *DB) React(ctx context.Context, r home.Reaction, notices []home.Notice) error {
	if _, err := db.Finding(ctx, r.Finding); err != nil {
		return err
	}
	return db.react(ctx, r, notices)
}

// ImportReaction keeps what a person said to a finding that is still to be made.
func (db *DB) ImportReaction(ctx context.Context, r home.Reaction) error {
	return db.react(ctx, r, nil)
}

func (db *DB) react(ctx context.Context, r home.Reaction, notices []home.Notice) error {
	if err := r.Valid(); err != nil {
		return &home.Error{Op: "store a reaction", Err: err}
	}
	return db.tx(ctx, "store a reaction", func(w *work) error {
		res, err := w.ExecContext(ctx, `INSERT INTO reaction (id, finding, kind, at, until, by_whom, note) VALUES (?,?,?,?,?,?,?)
			ON CONFLICT DO NOTHING`, r.ID, r.Finding, string(r.Kind), r.At.UnixMicro(), micros(r.Until), r.By, r.Note)
		if err != nil {
			return err
		}
		if rows, err := res.RowsAffected(); err != nil || rows == 0 {
			return err
		}
		for _, n := range notices {
			if err := w.stand(n); err != nil {
				return err
			}
		}
		return nil
	})
}

// Reactions returns what people said to one finding, oldest first.
func (db *DB) Reactions(ctx context.Context, finding string) ([]home.Reaction, error) {
	return db.reactions(ctx, `WHERE finding = ? ORDER BY at, id`, finding)
}

// EveryReaction returns what people said to findings, oldest first.
func (db *DB) EveryReaction(ctx context.Context) ([]home.Reaction, error) {
	return db.reactions(ctx, `ORDER BY at, id`)
}

func (db *DB) reactions(ctx context.Context, which string, args ...any) ([]home.Reaction, error) {
	return list(ctx, db.read, "read reactions", func(rows *sql.Rows) (home.Reaction, error) {
		var r home.Reaction
		var at int64
		var until *int64
		err := rows.Scan(&r.ID, &r.Finding, &r.Kind, &at, &until, &r.By, &r.Note)
		r.At, r.Until = time.UnixMicro(at).UTC(), fromMicros(until)
		return r, err
	}, `SELECT id, finding, kind, at, until, by_whom, note FROM reaction `+which, args...)
}
