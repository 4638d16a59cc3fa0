package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"time"

	"weighbeam/home"
)

// parts is how what has no table of its own is kept of a home check.
type parts struct {
	Seen   []home.Seen  `json:",omitempty"`
	Lumps  []home.Lump  `json:",omitempty"`
	Given  []home.Given `json:",omitempty"`
	Photos []home.Photo `json:",omitempty"`
}

func (a *appender) check(c home.HomeCheck) error {
	cat, err := a.slug(c.Cat)
	if err != nil {
		return err
	}
	flags, err := json.Marshal(c.RedFlags)
	if err != nil {
		return err
	}
	body, err := json.Marshal(parts{c.Seen, c.Lumps, c.Given, c.Photos})
	if err != nil {
		return err
	}
	res, err := a.ExecContext(a.ctx, `INSERT INTO home_check (id, cat, at, by_whom, note, red_flags, parts)
		VALUES (?,?,?,?,?,?,?) ON CONFLICT DO NOTHING`, c.ID, cat, c.Time.UnixMicro(), c.By, c.Note, string(flags), string(body))
	if err != nil {
		return err
	}
	n, err := res.RowsAffected()
	if err != nil {
		return err
	}
	if n == 0 { // the same check sent again
		a.tally.Duplicate += 1 + len(c.Readings)
		return nil
	}
	a.tally.Stored++
	a.enter(entryKey{home.OfCheck, home.Hand, c.Cat, ""}, c.Time, c.Time)
	for _, r := range c.Readings {
		if err := a.reading(r.Normal(), c.ID); err != nil {
			return err
		}
	}
	return nil
}

// Checks returns the home checks of one cat from from to before to, newest
// first, with their readings, without those that were taken back. A zero time is
// no bound.
func (db *DB) Checks(ctx context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error) {
	id, ok := db.known(cat)
	if !ok || cat == "" {
		return nil, nil
	}
	return db.checks(ctx, `WHERE h.cat = ? AND h.at >= ? AND h.at < ? AND h.correction IS NULL ORDER BY h.at DESC, h.id`,
		id, bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// EveryCheck returns the home checks of one cat, or of all for an empty one,
// newest first, also those that were taken back.
func (db *DB) EveryCheck(ctx context.Context, cat string) ([]home.HomeCheck, error) {
	return db.checks(ctx, `WHERE ?1 = '' OR c.text = ?1 ORDER BY h.at DESC, h.id`, cat)
}

// HomeCheck returns one home check, also where it was taken back; an error that
// wraps home.ErrNotFound for none.
func (db *DB) HomeCheck(ctx context.Context, id string) (home.HomeCheck, error) {
	found, err := db.checks(ctx, `WHERE h.id = ?`, id)
	if err == nil && len(found) == 0 {
		return home.HomeCheck{}, wrap("read home check", home.ErrNotFound)
	}
	if err != nil {
		return home.HomeCheck{}, err
	}
	return found[0], nil
}

func (db *DB) checks(ctx context.Context, where string, args ...any) ([]home.HomeCheck, error) {
	checks, err := list(ctx, db.read, "read home checks", scanCheck,
		`SELECT h.id, c.text, h.at, h.by_whom, h.note, h.red_flags, h.parts FROM home_check h JOIN slug c ON c.id = h.cat `+where, args...)
	if err != nil {
		return nil, err
	}
	for i, c := range checks {
		checks[i].Readings, err = list(ctx, db.read, "read home checks", db.scanner(ctx),
			selectReadings+`WHERE r.home_check = ? ORDER BY r.quantity, r.at, r.seq`, c.ID)
		if err != nil {
			return nil, err
		}
	}
	return checks, nil
}

func scanCheck(rows *sql.Rows) (home.HomeCheck, error) {
	var c home.HomeCheck
	var at int64
	var flags, body string
	if err := rows.Scan(&c.ID, &c.Cat, &at, &c.By, &c.Note, &flags, &body); err != nil {
		return c, err
	}
	c.Time = time.UnixMicro(at).UTC()
	if err := json.Unmarshal([]byte(flags), &c.RedFlags); err != nil {
		return c, err
	}
	var p parts
	err := json.Unmarshal([]byte(body), &p)
	c.Seen, c.Lumps, c.Given, c.Photos = p.Seen, p.Lumps, p.Given, p.Photos
	return c, err
}
