package store

import (
	"context"
	"database/sql"
	"time"

	"weighbeam/home"
)

// SetAsides returns what could not be read, newest first, at most limit.
func (db *DB) SetAsides(ctx context.Context, limit int) ([]home.SetAside, error) {
	return list(ctx, db.read, "read what was set aside", func(rows *sql.Rows) (home.SetAside, error) {
		var s home.SetAside
		var last int64
		err := rows.Scan(&s.ID, &s.Way, &s.Topic, &s.Payload, &s.Reason, &last, &s.Latest)
		s.Arrived = time.UnixMicro(last).UTC()
		return s, err
	}, `SELECT id, way, topic, payload, reason, last, latest FROM set_aside ORDER BY last DESC, id DESC LIMIT ?`, limit)
}
