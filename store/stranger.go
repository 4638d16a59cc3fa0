package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"time"

	"weighbeam/home"
)

// NamedCats returns the cats that readings name and h does not know, by name and source. What
// was taken back names nobody.
func (db *DB) NamedCats(ctx context.Context, h home.Household) ([]home.NamedCat, error) {
	living := []string{}
	for _, c := range h.Cats {
		living = append(living, c.ID)
	}
	known, err := json.Marshal(living)
	if err != nil {
		return nil, err
	}
	return list(ctx, db.read, "read whom readings name", func(rows *sql.Rows) (home.NamedCat, error) {
		var n home.NamedCat
		var last int64
		err := rows.Scan(&n.Cat, &n.Source, &n.Count, &last)
		n.Last = time.UnixMicro(last).UTC()
		return n, err
	}, `SELECT c.text, s.text, count(*), max(r.at) FROM slug c CROSS JOIN reading r ON r.cat = c.id JOIN slug s ON s.id = r.source
		WHERE r.cat > 0 AND c.id > 0 AND c.text NOT IN (SELECT value FROM json_each(?)) AND r.correction IS NULL GROUP BY 1, 2 ORDER BY 1, 2`, string(known))
}
