package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"maps"
	"math"
	"slices"
	"time"

	"weighbeam/home"
)

// NamedCats returns the cats that readings name, one of since or later among them, and that
// h does not know, by name and source. What was taken back names nobody.
func (db *DB) NamedCats(ctx context.Context, h home.Household, since time.Time) ([]home.NamedCat, error) {
	living := []string{}
	for _, c := range h.Cats {
		living = append(living, c.ID)
	}
	known, err := json.Marshal(living)
	if err != nil {
		return nil, err
	}
	quantities, err := json.Marshal(slices.Sorted(maps.Keys(quantityOf)))
	if err != nil {
		return nil, err
	}
	return list(ctx, db.read, "read whom readings name", func(rows *sql.Rows) (home.NamedCat, error) {
		var n home.NamedCat
		var last int64
		err := rows.Scan(&n.Cat, &n.Source, &n.Count, &last)
		n.Last = time.UnixMicro(last).UTC()
		return n, err
	}, `WITH named AS ( -- a cat that left years ago is not counted through
			SELECT id, text FROM slug c WHERE id > 0 AND text NOT IN (SELECT value FROM json_each(?1))
			AND EXISTS (SELECT 1 FROM json_each(?2) q CROSS JOIN reading r ON r.cat = c.id AND r.cat > 0 AND r.quantity = q.value AND r.at >= ?3))
		SELECT c.text, s.text, count(*), max(r.at) FROM named c CROSS JOIN reading r ON r.cat = c.id JOIN slug s ON s.id = r.source
		WHERE r.cat > 0 AND r.correction IS NULL GROUP BY 1, 2 ORDER BY 1, 2`, string(known), string(quantities), bound(since, math.MinInt64))
}
