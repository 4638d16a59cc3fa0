package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"weighbeam/home"
)

// SaveVisits writes visits that are new or whose understanding changed, removes
// those that no longer stand (each known by its source and start), and moves the
// cursor, all in one transaction.
func (db *DB) SaveVisits(ctx context.Context, c home.Cursor, changed, gone []home.Visit) error {
	return db.tx(ctx, "store visits", func(w *work) error {
		for _, v := range gone {
			if err := w.removeVisit(v); err != nil {
				return err
			}
		}
		for _, v := range changed {
			if err := w.putVisit(v); err != nil {
				return err
			}
		}
		return w.move(c)
	})
}

func (w *work) putVisit(v home.Visit) error {
	source, err := w.slug(v.Source)
	if err != nil {
		return err
	}
	cat, err := w.slug(v.Cat)
	if err != nil {
		return err
	}
	reasons, err := json.Marshal(v.Reasons)
	if err != nil {
		return err
	}
	if err := w.lost(source, v); err != nil {
		return err
	}
	var left, leftSD any
	if v.HasLeft {
		left, leftSD = v.LeftG, v.LeftSDG
	}
	_, err = w.ExecContext(w.ctx, `INSERT OR REPLACE INTO visit
		(source, start, finish, event, mass, sd, remains, remains_sd, quality, reasons, cat, confidence, whose, gain, span, crept)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)`, source, v.Start.UnixMicro(), v.End.UnixMicro(), string(v.Event),
		orNull(v.MassKg), orNull(v.SDKg), left, leftSD, v.Quality, string(reasons), cat, v.Confidence, string(v.Whose), orNull(v.Gain), orNull(v.SpanKg), orNull(v.CreptG))
	if err != nil {
		return err
	}
	for _, s := range v.Shares {
		if err := w.putShare(source, v, s); err != nil {
			return err
		}
	}
	for _, of := range concerned(v) {
		if err := w.enter(home.Entry{Matter: home.OfVisit, Source: v.Source, Cat: of, From: v.End, To: v.End, N: 1}); err != nil {
			return err
		}
	}
	return nil
}

func (w *work) putShare(source int64, v home.Visit, s home.Share) error {
	cat, err := w.slug(s.Cat)
	if err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `INSERT INTO visit_share (source, start, cat, p, finish) VALUES (?,?,?,?,?)`,
		source, v.Start.UnixMicro(), cat, s.P, v.End.UnixMicro())
	return err
}

// concerned lists the cats that v is about, "" for a visit that is nobody's.
func concerned(v home.Visit) []string {
	cats := []string{v.Cat}
	for _, s := range v.Shares {
		if !slices.Contains(cats, s.Cat) {
			cats = append(cats, s.Cat)
		}
	}
	if v.Cat == "" && len(cats) > 1 {
		return cats[1:]
	}
	return cats
}

// lost tells the journal of the cats that this visit was about until now, and
// no longer is, or was at another time.
func (w *work) lost(source int64, v home.Visit) error {
	were, err := list(w.ctx, w, "read a visit", func(rows *sql.Rows) (had home.Entry, err error) {
		var finish int64
		err = rows.Scan(&had.Cat, &finish)
		had.From = time.UnixMicro(finish).UTC()
		return had, err
	}, `SELECT c.text, v.finish FROM visit v JOIN slug c ON c.id = v.cat WHERE v.source = ?1 AND v.start = ?2 AND v.cat > 0
		UNION SELECT c.text, h.finish FROM visit_share h JOIN slug c ON c.id = h.cat WHERE h.source = ?1 AND h.start = ?2`,
		source, v.Start.UnixMicro())
	if err != nil {
		return err
	}
	now := concerned(v)
	for _, had := range were {
		if slices.Contains(now, had.Cat) && had.From.UnixMicro() == v.End.UnixMicro() {
			continue
		}
		if err := w.enter(home.Entry{Matter: home.OfVisit, Source: v.Source, Cat: had.Cat, From: had.From, To: had.From, N: 1}); err != nil {
			return err
		}
	}
	return nil
}

func (w *work) removeVisit(v home.Visit) error {
	source, err := w.slug(v.Source)
	if err != nil {
		return err
	}
	// Compared with a visit that is nobody's, so that a former owner is told.
	if err := w.lost(source, home.Visit{Source: v.Source, Start: v.Start}); err != nil {
		return err
	}
	_, err = w.ExecContext(w.ctx, `DELETE FROM visit WHERE source = ? AND start = ?`, source, v.Start.UnixMicro())
	return err
}

// Visits returns the visits to one source ("" for all) that end from from to
// before to, by start. A zero time is no bound.
func (db *DB) Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read visits", scanVisit, visitColumns+visitShares+visitTables+`WHERE (?1 = 0 OR v.source = ?1) AND v.finish >= ?2 AND v.finish < ?3 ORDER BY v.start, s.text`,
		id, bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// VisitsOf returns the visits that carry the name of cat, by start: to a litter box, and
// meals and drinks. They end from from to before to. A zero time is no bound. Which
// other cats each may have been of is left out.
func (db *DB) VisitsOf(ctx context.Context, cat string, from, to time.Time) ([]home.Visit, error) {
	id, ok := db.known(cat)
	if !ok || cat == "" {
		return nil, nil
	}
	return list(ctx, db.read, "read visits", scanVisit, visitColumns+`''`+visitTables+`WHERE v.cat = ?1 AND v.cat > 0 AND v.finish >= ?2 AND v.finish < ?3 ORDER BY v.start, s.text`,
		id, bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

const visitColumns = `SELECT s.text, v.start, v.finish, v.event, coalesce(v.mass, 0), coalesce(v.sd, 0),
		v.remains, v.remains_sd, v.quality, v.reasons, c.text, v.confidence, v.whose, coalesce(v.gain, 0), coalesce(v.span, 0), coalesce(v.crept, 0), `

const visitShares = `(SELECT json_group_array(json_object('Cat', n.text, 'P', h.p) ORDER BY h.p DESC, n.text)
		FROM visit_share h JOIN slug n ON n.id = h.cat WHERE h.source = v.source AND h.start = v.start)`

const visitTables = ` FROM visit v JOIN slug s ON s.id = v.source JOIN slug c ON c.id = v.cat `

func scanVisit(rows *sql.Rows) (home.Visit, error) {
	var v home.Visit
	var start, finish int64
	var left, leftSD *float64
	var reasons, shares string
	err := rows.Scan(&v.Source, &start, &finish, &v.Event, &v.MassKg, &v.SDKg, &left, &leftSD,
		&v.Quality, &reasons, &v.Cat, &v.Confidence, &v.Whose, &v.Gain, &v.SpanKg, &v.CreptG, &shares)
	if err != nil {
		return v, err
	}
	v.Start, v.End = time.UnixMicro(start).UTC(), time.UnixMicro(finish).UTC()
	if left != nil && leftSD != nil {
		v.HasLeft, v.LeftG, v.LeftSDG = true, *left, *leftSD
	}
	if err := listOf(reasons, &v.Reasons); err != nil {
		return v, fmt.Errorf("visit of %s at %s: %w", v.Source, v.Start, err)
	}
	if err := listOf(shares, &v.Shares); err != nil {
		return v, fmt.Errorf("visit of %s at %s: %w", v.Source, v.Start, err)
	}
	return v, nil
}

// listOf reads a JSON array; most that are kept are empty, which is nil.
func listOf[T any](text string, into *[]T) error {
	if text == "" || text == "[]" || text == "null" {
		return nil
	}
	return json.Unmarshal([]byte(text), into)
}
