package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"math"
	"strings"
	"time"

	"weighbeam/home"
)

const (
	asideFields  = `id, way, topic, payload, reason, last, times, latest, retained, cut`
	asideColumns = `SELECT ` + asideFields + ` FROM set_aside WHERE settled = 0 `
)

// SetAsides returns what could not be read and waits, newest first, at most limit.
func (db *DB) SetAsides(ctx context.Context, limit int) ([]home.SetAside, error) {
	return list(ctx, db.read, "read what was set aside", scanAside, asideColumns+`ORDER BY last DESC, id DESC LIMIT ?`, limit)
}

// SetAsidesAfter returns what waits with an id above after, in the order of ids, at
// most limit.
func (db *DB) SetAsidesAfter(ctx context.Context, after int64, limit int) ([]home.SetAside, error) {
	return list(ctx, db.read, "read what was set aside", scanAside, asideColumns+`AND id > ? ORDER BY id LIMIT ?`, after, limit)
}

// SetAsidesOn returns the newest of what waits on one topic, newest first.
func (db *DB) SetAsidesOn(ctx context.Context, topic string) ([]home.SetAside, error) {
	return list(ctx, db.read, "read what was set aside", scanAside, asideColumns+`AND topic = ? ORDER BY last DESC, id DESC LIMIT 20`, topic)
}

// Settled counts those of ids that were read since they were set aside.
func (db *DB) Settled(ctx context.Context, ids []int64) (n int, err error) {
	list, err := json.Marshal(ids)
	if err != nil {
		return 0, err
	}
	err = db.read.QueryRowContext(ctx, `SELECT count(*) FROM set_aside WHERE settled = 1 AND id IN (SELECT value FROM json_each(?))`, string(list)).Scan(&n)
	return n, wrap("read what was set aside", err)
}

// dismissed is the state of what a person said is to wait no more. It is kept.
const dismissed = 2

// Dismissed returns what a person dismissed with an id above after, in the order of ids,
// at most limit.
func (db *DB) Dismissed(ctx context.Context, after int64, limit int) ([]home.SetAside, error) {
	return list(ctx, db.read, "read what was dismissed", scanAside,
		`SELECT `+asideFields+` FROM set_aside WHERE settled = ? AND id > ? ORDER BY id LIMIT ?`, dismissed, after, limit)
}

// Dismiss ends the wait of those of ids that did not come again after seen; the zero time
// is no bound. It returns how many. What comes again is set aside anew.
func (db *DB) Dismiss(ctx context.Context, ids []int64, seen time.Time) (n int64, err error) {
	list, err := json.Marshal(ids)
	if err != nil {
		return 0, err
	}
	err = db.tx(ctx, "dismiss what was set aside", func(w *work) error {
		res, err := w.ExecContext(ctx, `UPDATE set_aside SET settled = ? WHERE settled = 0 AND last <= ? AND id IN (SELECT value FROM json_each(?))`,
			dismissed, bound(seen, math.MaxInt64), string(list))
		if err != nil {
			return err
		}
		if n, err = res.RowsAffected(); err != nil {
			return err
		}
		_, err = w.ExecContext(ctx, `DELETE FROM set_aside_arrival WHERE aside IN (SELECT id FROM set_aside WHERE settled = ? AND id IN (SELECT value FROM json_each(?)))`,
			dismissed, string(list))
		return err
	})
	return n, err
}

func scanAside(rows *sql.Rows) (home.SetAside, error) {
	var s home.SetAside
	var last int64
	err := rows.Scan(&s.ID, &s.Way, &s.Topic, &s.Payload, &s.Reason, &last, &s.Times, &s.Latest, &s.Retained, &s.Cut)
	s.Arrived = time.UnixMicro(last).UTC()
	return s, err
}

// cameMost is of how many arrivals of one payload it is known when they were.
const cameMost = 1000

// Came returns when a payload that waits came, each time that it was not read since, in
// the order of time, the first thousand of them. It is empty where only the newest
// payload of a topic is kept.
func (db *DB) Came(ctx context.Context, id int64) ([]home.Came, error) {
	return list(ctx, db.read, "read what was set aside", func(rows *sql.Rows) (home.Came, error) {
		var c home.Came
		var at int64
		err := rows.Scan(&at, &c.Retained)
		c.At = time.UnixMicro(at).UTC()
		return c, err
	}, `SELECT at, retained FROM set_aside_arrival WHERE aside = ? ORDER BY at`, id)
}

func (a *appender) setAside(s home.SetAside) error {
	if s.Payload == nil {
		s.Payload = []byte{}
	}
	again := `(topic, digest, reason) WHERE latest = 0 AND settled = 0 DO UPDATE SET last = excluded.last, times = times + 1,
		retained = excluded.retained`
	if s.Latest {
		again = `(way, topic) WHERE latest = 1 AND settled = 0 DO UPDATE SET last = excluded.last, times = times + 1,
			payload = excluded.payload, digest = excluded.digest, reason = excluded.reason, retained = excluded.retained, cut = excluded.cut`
	}
	digest := sha256.Sum256(s.Payload)
	var id int64
	var times int
	err := a.QueryRowContext(a.ctx, `INSERT INTO set_aside (way, topic, payload, digest, reason, first, last, latest, retained, cut)
		VALUES (?,?,?,?,?,?,?,?,?,?) ON CONFLICT `+again+` RETURNING id, times`,
		s.Way, strings.ToValidUTF8(s.Topic, "\uFFFD"), s.Payload, digest[:], s.Reason, s.Arrived.UnixMicro(), s.Arrived.UnixMicro(),
		s.Latest, s.Retained, s.Cut).Scan(&id, &times)
	if err != nil {
		return err
	}
	a.tally.SetAside++
	if s.Latest || times > cameMost {
		return nil
	}
	return a.came(id, s.Arrived, s.Retained)
}

func (a *appender) came(id int64, at time.Time, retained bool) error {
	_, err := a.ExecContext(a.ctx, `INSERT OR IGNORE INTO set_aside_arrival (aside, at, retained) VALUES (?,?,?)`, id, at.UnixMicro(), retained)
	return err
}

// retried settles what was tried again, or keeps it with the reason of now. Where
// the same came at other times, those wait for a try of their own.
func (a *appender) retried(r home.Retried) error {
	if r.Reason != "" {
		a.tally.SetAside++
	}
	var latest, retained bool
	err := a.QueryRowContext(a.ctx, `SELECT latest, retained FROM set_aside WHERE id = ?1 AND settled = 0
		AND iif(latest, last = ?2, EXISTS (SELECT 1 FROM set_aside_arrival WHERE aside = ?1 AND at = ?2))`,
		r.ID, r.Arrived.UnixMicro()).Scan(&latest, &retained)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return nil
	case err != nil:
		return err
	case r.Reason == "":
		return a.settle(r)
	}
	if err := a.absorb(r); err != nil {
		return err
	}
	// What was kept beside others of its topic stays so, whatever the reason of now.
	if _, err := a.ExecContext(a.ctx, `UPDATE set_aside SET reason = ?, latest = latest AND ? WHERE id = ?`, r.Reason, r.Latest, r.ID); err != nil {
		return err
	}
	if latest && !r.Latest {
		return a.came(r.ID, r.Arrived, retained)
	}
	return nil
}

// settle ends the wait of what came at r.Arrived, and that of the row with the last of it.
func (a *appender) settle(r home.Retried) error {
	if more, err := a.cameElse(r); err != nil || more {
		return err
	}
	_, err := a.ExecContext(a.ctx, `UPDATE set_aside SET settled = 1 WHERE id = ?`, r.ID)
	return err
}

// cameElse forgets that it came at r.Arrived, and reports whether it came at other times
// that wait still.
func (a *appender) cameElse(r home.Retried) (more bool, err error) {
	if _, err := a.ExecContext(a.ctx, `DELETE FROM set_aside_arrival WHERE aside = ? AND at = ?`, r.ID, r.Arrived.UnixMicro()); err != nil {
		return false, err
	}
	err = a.QueryRowContext(a.ctx, `SELECT EXISTS (SELECT 1 FROM set_aside_arrival WHERE aside = ?)`, r.ID).Scan(&more)
	return more, err
}

// absorb makes room for r: another row that holds the same payload and says already
// what r is about to say goes, and is counted to r.
func (a *appender) absorb(r home.Retried) error {
	var other int64
	err := a.QueryRowContext(a.ctx, `SELECT o.id FROM set_aside o JOIN set_aside r ON r.id = ?1
		WHERE o.id <> r.id AND o.topic = r.topic AND o.settled = 0 AND o.latest = 0 AND NOT (r.latest AND ?2)
		AND o.digest = r.digest AND o.reason = ?3`, r.ID, r.Latest, r.Reason).Scan(&other)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	_, err = a.ExecContext(a.ctx, `UPDATE set_aside SET times = set_aside.times + o.times, first = min(set_aside.first, o.first),
		last = max(set_aside.last, o.last), retained = iif(o.last > set_aside.last, o.retained, set_aside.retained)
		FROM set_aside o WHERE o.id = ?2 AND set_aside.id = ?1`, r.ID, other)
	if err != nil {
		return err
	}
	if _, err := a.ExecContext(a.ctx, `UPDATE OR IGNORE set_aside_arrival SET aside = ? WHERE aside = ?`, r.ID, other); err != nil {
		return err
	}
	_, err = a.ExecContext(a.ctx, `DELETE FROM set_aside WHERE id = ?`, other)
	return err
}
