package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"math"
	"time"

	"weighbeam/home"
)

// Checks returns the home checks of one cat from from to before to, newest
// first, with their readings. A zero time is no bound.
func (db *DB) Checks(ctx context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error) {
	id, ok := db.known(cat)
	if !ok || cat == "" {
		return nil, nil
	}
	checks, err := list(ctx, db.read, "read home checks", func(rows *sql.Rows) (home.HomeCheck, error) {
		c := home.HomeCheck{Cat: cat}
		var at int64
		var flags string
		if err := rows.Scan(&c.ID, &at, &c.By, &c.Note, &flags); err != nil {
			return c, err
		}
		c.Time = time.UnixMicro(at).UTC()
		return c, json.Unmarshal([]byte(flags), &c.RedFlags)
	}, `SELECT id, at, by_whom, note, red_flags FROM home_check WHERE cat = ? AND at >= ? AND at < ? ORDER BY at DESC, id`,
		id, bound(from, math.MinInt64), bound(to, math.MaxInt64))
	if err != nil {
		return nil, err
	}
	for i, c := range checks {
		checks[i].Readings, err = list(ctx, db.read, "read home checks", scanReading,
			readingColumns+`WHERE r.cat = ? AND r.cat > 0 AND r.home_check = ? ORDER BY r.quantity, r.at, r.seq`, id, c.ID)
		if err != nil {
			return nil, err
		}
	}
	return checks, nil
}
