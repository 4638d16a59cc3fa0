package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// Correct takes an entry of a person back and takes in with, which holds what is put
// in its place, in one transaction. The entry stays in EveryCheck and EveryCare;
// Readings, Counts, Weighings, Checks and Care no longer return it, and the journal says so to
// those who derive things. The same correction sent twice is one. The error wraps
// home.ErrNotFound where there is no such entry, and home.ErrCorrected where it
// was taken back before; nothing is stored then.
func (db *DB) Correct(ctx context.Context, c home.Correction, with home.Batch) error {
	if err := c.Valid(); err != nil {
		return &home.Error{Op: "store a correction", Err: err}
	}
	return db.tx(ctx, "store a correction", func(w *work) error {
		var known int
		err := w.QueryRowContext(ctx, `SELECT count(*) FROM correction WHERE id = ?`, c.ID).Scan(&known)
		if err != nil || known > 0 {
			return err
		}
		if err := w.withdraw(c); err != nil {
			return err
		}
		tally, err := w.append(with)
		if err == nil && tally.SetAside > 0 {
			err = errors.New("a reading of the replacement has the name of another one")
		}
		if err == nil {
			err = w.replaced(c)
		}
		if err != nil {
			return err
		}
		cat, err := w.slug(c.Cat)
		if err != nil {
			return err
		}
		_, err = w.ExecContext(ctx, `INSERT INTO correction (id, cat, matter, target, replacement, at, by_whom, why) VALUES (?,?,?,?,?,?,?,?)`,
			c.ID, cat, string(c.Matter), c.Target, c.Replacement, c.At.UnixMicro(), c.By, c.Why)
		return err
	})
}

// withdraw marks what c corrects, with the readings that came with it.
func (w *work) withdraw(c home.Correction) error {
	switch c.Matter {
	case home.OfCheck:
		return w.withdrawCheck(c)
	case home.OfCare:
		return w.withdrawCare(c)
	}
	source, quantity, at, seq, err := readingKey(c.Target)
	if err != nil {
		return err
	}
	if source != home.Hand && source != home.Clinic {
		return fmt.Errorf("a reading of %s was not entered by a person", source)
	}
	n, err := w.withdrawReadings(c, `source = (SELECT id FROM slug WHERE text = ?) AND quantity = ? AND at = ? AND seq = ? AND home_check IS NULL`,
		source, quantity, at, seq)
	if err == nil && n == 0 {
		err = w.absent(c, sql.ErrNoRows)
	}
	return err
}

func (w *work) withdrawCheck(c home.Correction) error {
	var at int64
	err := w.QueryRowContext(w.ctx, `UPDATE home_check SET correction = ? WHERE id = ? AND correction IS NULL
		AND cat = (SELECT id FROM slug WHERE text = ?) RETURNING at`, c.ID, c.Target, c.Cat).Scan(&at)
	if err != nil {
		return w.absent(c, err)
	}
	day := time.UnixMicro(at)
	if err := w.enter(home.Entry{Matter: home.OfCheck, Source: home.Hand, Cat: c.Cat, From: day, To: day, N: 1}); err != nil {
		return err
	}
	_, err = w.withdrawReadings(c, `home_check = ?`, c.Target)
	return err
}

func (w *work) withdrawCare(c home.Correction) error {
	var start, end int64
	err := w.QueryRowContext(w.ctx, `UPDATE care SET correction = ? WHERE id = ? AND correction IS NULL
		AND cat = (SELECT id FROM slug WHERE text = ?) RETURNING start, coalesce(finish, start)`, c.ID, c.Target, c.Cat).Scan(&start, &end)
	if err != nil {
		return w.absent(c, err)
	}
	to := time.UnixMicro(max(end, c.At.UnixMicro()))
	return w.enter(home.Entry{Matter: home.OfCare, Source: home.Hand, Cat: c.Cat, From: time.UnixMicro(start), To: to, N: 1})
}

// withdrawReadings marks the cat's readings that match and says how many.
func (w *work) withdrawReadings(c home.Correction, where string, args ...any) (int, error) {
	args = append([]any{c.ID, c.Cat}, args...)
	rows, err := w.QueryContext(w.ctx, `UPDATE reading SET correction = ? WHERE cat = (SELECT id FROM slug WHERE text = ?)
		AND correction IS NULL AND `+where+` RETURNING (SELECT text FROM slug WHERE id = source), quantity, at`, args...)
	if err != nil {
		return 0, err
	}
	gone, err := scanAll(rows, func(rows *sql.Rows) (home.Entry, error) {
		var quantity int64
		var at int64
		e := home.Entry{Matter: home.OfReading, Cat: c.Cat, N: 1}
		err := rows.Scan(&e.Source, &quantity, &at)
		e.Quantity, e.From, e.To = quantityOf[quantity], time.UnixMicro(at), time.UnixMicro(at)
		return e, err
	})
	for i := 0; i < len(gone) && err == nil; i++ {
		err = w.enter(gone[i])
	}
	return len(gone), err
}

// absent says why nothing was there to take back.
func (w *work) absent(c home.Correction, err error) error {
	if !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	var n int
	err = w.QueryRowContext(w.ctx, `SELECT count(*) FROM correction WHERE matter = ? AND target = ?`, string(c.Matter), c.Target).Scan(&n)
	if err == nil && n > 0 {
		err = home.ErrCorrected
	} else if err == nil {
		err = home.ErrNotFound
	}
	return fmt.Errorf("%s %s: %w", c.Matter, c.Target, err)
}

// replaced makes sure that what takes the entry's place is there.
func (w *work) replaced(c home.Correction) error {
	if c.Void() {
		return nil
	}
	query, args := `SELECT count(*) FROM home_check WHERE id = ?`, []any{c.Replacement}
	switch c.Matter {
	case home.OfCare:
		query = `SELECT count(*) FROM care WHERE id = ?`
	case home.OfReading:
		source, quantity, at, seq, err := readingKey(c.Replacement)
		if err != nil {
			return err
		}
		query = `SELECT count(*) FROM reading WHERE source = (SELECT id FROM slug WHERE text = ?) AND quantity = ? AND at = ? AND seq = ?`
		args = []any{source, quantity, at, seq}
	}
	var n int
	err := w.QueryRowContext(w.ctx, query, args...).Scan(&n)
	if err == nil && n == 0 {
		err = fmt.Errorf("%s %s, which is to take its place: %w", c.Matter, c.Replacement, home.ErrNotFound)
	}
	return err
}

// readingKey takes a home.Reading.Key apart.
func readingKey(key string) (source string, quantity, at, seq int64, err error) {
	part := strings.Split(key, "/")
	if len(part) != 5 {
		return "", 0, 0, 0, fmt.Errorf("reading %q: %w", key, home.ErrNotFound)
	}
	at, err1 := strconv.ParseInt(part[2], 10, 64)
	seq, err2 := strconv.ParseInt(part[3], 10, 64)
	if err := errors.Join(err1, err2); err != nil {
		return "", 0, 0, 0, fmt.Errorf("reading %q: %w", key, home.ErrNotFound)
	}
	return part[0], quantityCodes[home.Quantity(part[1])], at, seq, nil
}

// Corrections returns what was corrected of one cat, or of all for an empty one,
// oldest first.
func (db *DB) Corrections(ctx context.Context, cat string) ([]home.Correction, error) {
	return list(ctx, db.read, "read corrections", func(rows *sql.Rows) (home.Correction, error) {
		var c home.Correction
		var at int64
		err := rows.Scan(&c.ID, &c.Cat, &c.Matter, &c.Target, &c.Replacement, &at, &c.By, &c.Why)
		c.At = time.UnixMicro(at).UTC()
		return c, err
	}, `SELECT k.id, c.text, k.matter, k.target, k.replacement, k.at, k.by_whom, k.why FROM correction k JOIN slug c ON c.id = k.cat
		WHERE ?1 = '' OR c.text = ?1 ORDER BY k.at, k.id`, cat)
}
