package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

const noticeColumns = `SELECT id, coalesce(finding, ''), turn, urgency, channel, subject, body, created, state, reason, attempts, due, sent FROM notice `

func scanNotice(rows *sql.Rows) (home.Notice, error) {
	var n home.Notice
	var created int64
	var due, sent *int64
	err := rows.Scan(&n.ID, &n.Finding, &n.Turn, &n.Urgency, &n.Channel, &n.Subject, &n.Body, &created,
		&n.State, &n.Reason, &n.Attempts, &due, &sent)
	n.Created, n.Due, n.Sent = time.UnixMicro(created).UTC(), fromMicros(due), fromMicros(sent)
	return n, err
}

// Notices returns the notices about one finding, or about all for "", newest first.
func (db *DB) Notices(ctx context.Context, finding string) ([]home.Notice, error) {
	return list(ctx, db.read, "read notices", scanNotice,
		noticeColumns+`WHERE ?1 = '' OR finding = ?1 ORDER BY created DESC, id`, finding)
}

// DueNotices returns waiting notices that are due, longest due first, at most limit.
func (db *DB) DueNotices(ctx context.Context, now time.Time, limit int) ([]home.Notice, error) {
	return list(ctx, db.read, "read notices", scanNotice,
		noticeColumns+`WHERE state = 'waiting' AND due <= ? ORDER BY due, id LIMIT ?`, now.UnixMicro(), limit)
}

// NextDue returns when the next waiting notice is due; ok is false if none waits.
func (db *DB) NextDue(ctx context.Context) (t time.Time, ok bool, err error) {
	var due *int64
	err = db.read.QueryRowContext(ctx, `SELECT min(due) FROM notice WHERE state = 'waiting'`).Scan(&due)
	return fromMicros(due), due != nil, wrap("read notices", err)
}

// SettleNotice writes where a notice stands now: its state, reason, attempts,
// due and sent. The rest of a notice never changes.
func (db *DB) SettleNotice(ctx context.Context, n home.Notice) error {
	return db.tx(ctx, "settle notice", func(w *work) error {
		res, err := w.ExecContext(ctx, `UPDATE notice SET state = ?, reason = ?, attempts = ?, due = ?, sent = ? WHERE id = ?`,
			string(n.State), n.Reason, n.Attempts, micros(n.Due), micros(n.Sent), n.ID)
		if err != nil {
			return err
		}
		if rows, err := res.RowsAffected(); err != nil || rows == 0 {
			return errors.Join(err, fmt.Errorf("notice %q: %w", n.ID, home.ErrNotFound))
		}
		return nil
	})
}

// NoticeKey says whose notices are counted.
type NoticeKey struct {
	Channel string
	State   home.NoticeState
}

// CountNotices counts notices by channel and state.
func (db *DB) CountNotices(ctx context.Context) (map[NoticeKey]int, error) {
	type row struct {
		key NoticeKey
		n   int
	}
	rows, err := list(ctx, db.read, "count notices", func(rows *sql.Rows) (row, error) {
		var r row
		err := rows.Scan(&r.key.Channel, &r.key.State, &r.n)
		return r, err
	}, `SELECT channel, state, count(*) FROM notice GROUP BY 1, 2`)
	counts := map[NoticeKey]int{}
	for _, r := range rows {
		counts[r.key] = r.n
	}
	return counts, err
}
