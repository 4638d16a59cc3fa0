package store

import (
	"context"
	"database/sql"

	"weighbeam/home"
)

// SaveChannel keeps how a channel fares, in place of what was kept before.
func (db *DB) SaveChannel(ctx context.Context, r home.ChannelRecord) error {
	return db.tx(ctx, "store how a channel fares", func(w *work) error {
		_, err := w.ExecContext(ctx, `INSERT OR REPLACE INTO channel (name, took, failed, since, why) VALUES (?,?,?,?,?)`,
			r.Channel, micros(r.Took), micros(r.Failed), micros(r.Since), r.Why)
		return err
	})
}

// Channels returns what is remembered of the channels, by name, those included
// that are no longer configured.
func (db *DB) Channels(ctx context.Context) ([]home.ChannelRecord, error) {
	return list(ctx, db.read, "read how channels fare", func(rows *sql.Rows) (home.ChannelRecord, error) {
		var r home.ChannelRecord
		var took, failed, since *int64
		err := rows.Scan(&r.Channel, &took, &failed, &since, &r.Why)
		r.Took, r.Failed, r.Since = fromMicros(took), fromMicros(failed), fromMicros(since)
		return r, err
	}, `SELECT name, took, failed, since, why FROM channel ORDER BY name`)
}
