package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
)

const noticeColumns = `SELECT id, coalesce(finding, ''), turn, urgency, channel, subject, body, created, state, reason, attempts, due, sent, decided FROM notice `

func scanNotice(rows *sql.Rows) (home.Notice, error) {
	var n home.Notice
	var created int64
	var due, sent, decided *int64
	err := rows.Scan(&n.ID, &n.Finding, &n.Turn, &n.Urgency, &n.Channel, &n.Subject, &n.Body, &created,
		&n.State, &n.Reason, &n.Attempts, &due, &sent, &decided)
	n.Created, n.Due, n.Sent, n.Decided = time.UnixMicro(created).UTC(), fromMicros(due), fromMicros(sent), fromMicros(decided)
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

// owe enters a notice that is new, with its first step. One that waits without a date
// would never be due: the whole decision is refused, so that it is seen and made again.
func (w *work) owe(n home.Notice) error {
	if n.State == home.Waiting && n.Due.IsZero() {
		return fmt.Errorf("notice %q waits and does not say until when", n.ID)
	}
	res, err := w.ExecContext(w.ctx, `INSERT INTO notice
		(id, finding, turn, urgency, channel, subject, body, created, state, reason, attempts, due, sent, decided)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT DO NOTHING`,
		n.ID, orNull(n.Finding), string(n.Turn), string(n.Urgency), n.Channel, n.Subject, n.Body, n.Created.UnixMicro(),
		string(n.State), n.Reason, n.Attempts, micros(n.Due), micros(n.Sent), micros(n.Decided))
	if err != nil {
		return err
	}
	if rows, err := res.RowsAffected(); err != nil || rows == 0 {
		return err
	}
	return w.step(n)
}

// stand enters a notice that is new, and changes one that waits and was never tried.
// What was sent or withheld meanwhile stays so.
func (w *work) stand(n home.Notice) error {
	res, err := w.ExecContext(w.ctx, `UPDATE notice SET state = ?, reason = ?, due = ?, decided = ? WHERE id = ? AND state = 'waiting' AND attempts = 0`,
		string(n.State), n.Reason, micros(n.Due), micros(n.Decided), n.ID)
	if err != nil {
		return err
	}
	rows, err := res.RowsAffected()
	switch {
	case err != nil:
		return err
	case rows == 0:
		return w.owe(n)
	}
	return w.step(n)
}

// step keeps what was decided about n. The same decision made again, as while one
// notice waits for another, is one step.
func (w *work) step(n home.Notice) error {
	_, err := w.ExecContext(w.ctx, `INSERT INTO notice_step (notice, n, at, state, reason, due)
		SELECT n.id, coalesce(s.n, 0) + 1, coalesce(n.decided, n.created), n.state, n.reason, n.due
		FROM notice n LEFT JOIN notice_step s ON s.notice = n.id AND s.n = (SELECT max(n) FROM notice_step WHERE notice = n.id)
		WHERE n.id = ?1 AND (s.n IS NULL OR s.state <> n.state OR s.reason <> n.reason)`, n.ID)
	return err
}

// SettleNotice writes where a notice stands now: its state, reason, attempts,
// due, sent and decided, and keeps that as a step; that a try began is no step.
// The rest of a notice never changes.
func (db *DB) SettleNotice(ctx context.Context, n home.Notice) error {
	return db.tx(ctx, "settle notice", func(w *work) error {
		before := 0
		err := w.QueryRowContext(ctx, `SELECT attempts FROM notice WHERE id = ?`, n.ID).Scan(&before)
		if errors.Is(err, sql.ErrNoRows) {
			return fmt.Errorf("notice %q: %w", n.ID, home.ErrNotFound)
		}
		if err != nil {
			return err
		}
		_, err = w.ExecContext(ctx, `UPDATE notice SET state = ?, reason = ?, attempts = ?, due = ?, sent = ?, decided = ? WHERE id = ?`,
			string(n.State), n.Reason, n.Attempts, micros(n.Due), micros(n.Sent), micros(n.Decided), n.ID)
		if err != nil || n.Attempts > before && n.State == home.Waiting {
			return err
		}
		return w.step(n)
	})
}

// NoticeSteps returns every decision about the notices of one finding, in the
// order in which they were made.
func (db *DB) NoticeSteps(ctx context.Context, finding string) ([]home.NoticeStep, error) {
	return list(ctx, db.read, "read decisions", func(rows *sql.Rows) (home.NoticeStep, error) {
		var s home.NoticeStep
		var at int64
		var due *int64
		err := rows.Scan(&s.Notice, &at, &s.State, &s.Reason, &due)
		s.At, s.Due = time.UnixMicro(at).UTC(), fromMicros(due)
		return s, err
	}, `SELECT s.notice, s.at, s.state, s.reason, s.due FROM notice_step s JOIN notice o ON o.id = s.notice
		WHERE o.finding = ? ORDER BY s.at, s.n, s.notice`, finding)
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
