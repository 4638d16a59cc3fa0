package store

import (
	"context"
	"time"
)

// DayHeard returns the beginning of the n-th day (UTC), counted back from to and with
// that of to as far as it goes, on which anything was said. The zero time where there were
// not so many. Days without a word do not count.
func (db *DB) DayHeard(ctx context.Context, to time.Time, n int) (time.Time, error) {
	day := to
	for range n {
		var at *int64
		err := db.read.QueryRowContext(ctx, `SELECT max((SELECT r.at FROM reading r WHERE r.source = e.source AND r.quantity = e.quantity AND r.at < ?1
			ORDER BY r.at DESC LIMIT 1)) FROM series e WHERE e.first < ?1`, day.UnixMicro()).Scan(&at)
		if err != nil || at == nil {
			return time.Time{}, wrap("read on which days something was heard", err)
		}
		day = fromMicros(at).Truncate(24 * time.Hour)
	}
	return day, nil
}
