package store

import (
	"context"
	"database/sql"
	"math"
	"time"

	"weighbeam/home"
)

// readingColumns are what scanReading scans.
const readingColumns = `r.source, r.quantity, r.at, r.seq, r.cat, r.value, r.sd, r.lag, r.clock, r.retained, r.window, r.state, r.note`

const selectReadings = `SELECT ` + readingColumns + ` FROM reading r `

// scanner is scanReading as list takes it.
func (db *DB) scanner(ctx context.Context) func(*sql.Rows) (home.Reading, error) {
	return func(rows *sql.Rows) (home.Reading, error) { return db.scanReading(ctx, rows) }
}

func (db *DB) scanReading(ctx context.Context, rows *sql.Rows) (home.Reading, error) {
	// Into what the driver holds: any other type goes through its text.
	var source, quantity, at, cat, lag, clock int64
	var sd sql.NullFloat64
	var retained, window sql.NullInt64
	var state, note sql.NullString
	var r home.Reading
	err := rows.Scan(&source, &quantity, &at, &r.Seq, &cat, &r.Value, &sd, &lag, &clock, &retained, &window, &state, &note)
	if err != nil {
		return r, err
	}
	if r.Source, err = db.text(ctx, source); err != nil {
		return r, err
	}
	if r.Cat, err = db.text(ctx, cat); err != nil {
		return r, err
	}
	r.Quantity, r.Clock = quantityOf[quantity], clockOf[clock]
	r.Time = time.UnixMicro(at).UTC()
	r.Arrived = time.UnixMicro(at + lag).UTC()
	r.SD, r.Retained = sd.Float64, retained.Int64 != 0
	r.Window = time.Duration(window.Int64) * time.Microsecond
	r.State, r.Note = home.State(state.String), note.String
	return r, nil
}

// What a person took back is in Withdrawn alone; see Correct.

// Readings returns what one source said of one quantity from from to before to,
// in time order. A zero time is no bound.
func (db *DB) Readings(ctx context.Context, source string, q home.Quantity, from, to time.Time) ([]home.Reading, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read readings", db.scanner(ctx),
		selectReadings+`WHERE r.source = ? AND r.quantity = ? AND r.at >= ? AND r.at < ? AND r.correction IS NULL ORDER BY r.at, r.seq, r.cat`,
		id, quantityCodes[q], bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// Withdrawn returns those of Readings' range that a person took back.
func (db *DB) Withdrawn(ctx context.Context, source string, q home.Quantity, from, to time.Time) ([]home.Reading, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read what was taken back", db.scanner(ctx),
		selectReadings+`WHERE r.source = ? AND r.quantity = ? AND r.at >= ? AND r.at < ? AND r.correction IS NOT NULL ORDER BY r.at, r.seq, r.cat`,
		id, quantityCodes[q], bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// FirstReadings is Readings with the earliest of them, at most limit.
func (db *DB) FirstReadings(ctx context.Context, source string, q home.Quantity, from, to time.Time, limit int) ([]home.Reading, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read readings", db.scanner(ctx),
		selectReadings+`WHERE r.source = ? AND r.quantity = ? AND r.at >= ? AND r.at < ? AND r.correction IS NULL ORDER BY r.at, r.seq, r.cat LIMIT ?`,
		id, quantityCodes[q], bound(from, math.MinInt64), bound(to, math.MaxInt64), limit)
}

// Counts returns the readings of one quantity known to be of one cat, from from
// to before to, in time order. A zero time is no bound.
func (db *DB) Counts(ctx context.Context, cat string, q home.Quantity, from, to time.Time) ([]home.Reading, error) {
	id, ok := db.known(cat)
	if !ok || cat == "" {
		return nil, nil
	}
	return list(ctx, db.read, "read counts", db.scanner(ctx),
		selectReadings+`WHERE r.cat = ? AND r.cat > 0 AND r.quantity = ? AND r.at >= ? AND r.at < ? AND r.correction IS NULL ORDER BY r.at, r.source, r.seq`,
		id, quantityCodes[q], bound(from, math.MinInt64), bound(to, math.MaxInt64))
}

// Weighings returns the body masses of one cat from from to before to, in time
// order: visits that are, or may be, its own, and weights given with its name.
func (db *DB) Weighings(ctx context.Context, cat string, from, to time.Time) ([]home.Weighing, error) {
	id, ok := db.known(cat)
	if !ok || cat == "" {
		return nil, nil
	}
	lo, hi := bound(from, math.MinInt64), bound(to, math.MaxInt64)
	return list(ctx, db.read, "read weighings", func(rows *sql.Rows) (home.Weighing, error) {
		w := home.Weighing{Cat: cat}
		var at int64
		err := rows.Scan(&at, &w.Kg, &w.SDKg, &w.Source, &w.Confidence, &w.Unclear)
		w.Time = time.UnixMicro(at).UTC()
		return w, err
	}, `SELECT h.finish AS at, v.mass, coalesce(v.sd, 0), s.text, h.p, v.cat <> h.cat
			FROM visit_share h CROSS JOIN visit v ON v.source = h.source AND v.start = h.start JOIN slug s ON s.id = v.source
			WHERE h.cat = ?1 AND h.finish >= ?4 AND h.finish < ?5 AND v.event = ?2
		UNION ALL
		SELECT r.at, r.value, coalesce(r.sd, 0), s.text, 1.0, 0 FROM reading r JOIN slug s ON s.id = r.source
			WHERE r.cat = ?1 AND r.cat > 0 AND r.quantity = ?3 AND r.at >= ?4 AND r.at < ?5 AND r.correction IS NULL
		ORDER BY 1, 4`, id, string(home.CatVisit), quantityCodes[home.Weight], lo, hi)
}

// Heard returns the minutes from from to before to in which a source said
// anything, in time order. A zero time is no bound.
func (db *DB) Heard(ctx context.Context, source string, from, to time.Time) ([]time.Time, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read when a source was heard", func(rows *sql.Rows) (time.Time, error) {
		var minute int64
		err := rows.Scan(&minute)
		return time.UnixMicro(minute * time.Minute.Microseconds()).UTC(), err
	}, `SELECT DISTINCT r.at / 60000000 FROM series e CROSS JOIN reading r ON r.source = e.source AND r.quantity = e.quantity
		WHERE e.source = ? AND r.at >= ? AND r.at < ? ORDER BY 1`, id, bound(from, 0), bound(to, math.MaxInt64))
}

// ClockHours returns what the readings of a source dated from from to before to say
// of its clock, by the hour in which they arrived. Copies that a broker kept say nothing.
func (db *DB) ClockHours(ctx context.Context, source string, from, to time.Time) ([]home.ClockHour, error) {
	id, ok := db.known(source)
	if !ok {
		return nil, nil
	}
	return list(ctx, db.read, "read the clock of a source", func(rows *sql.Rows) (home.ClockHour, error) {
		var h home.ClockHour
		var hour int64
		var behind sql.NullInt64
		err := rows.Scan(&hour, &behind, &h.Refused)
		h.Hour, h.Behind, h.Dated = time.UnixMicro(hour*time.Hour.Microseconds()).UTC(), time.Duration(behind.Int64)*time.Microsecond, behind.Valid
		return h, err
	}, `SELECT (r.at + r.lag) / 3600000000, min(iif(r.clock = ?4, r.lag, NULL)), max(r.clock = ?5 AND coalesce(r.note, '') LIKE '%device clock %')
		FROM series e CROSS JOIN reading r ON r.source = e.source AND r.quantity = e.quantity
		WHERE e.source = ?1 AND r.at >= ?2 AND r.at < ?3 AND r.retained IS NULL AND (r.clock = ?4 OR r.note IS NOT NULL)
		GROUP BY 1 ORDER BY 1`, id, bound(from, 0), bound(to, math.MaxInt64), clockCodes[home.ByDevice], clockCodes[home.ByArrival])
}

// Sources returns when each source was last heard, by name.
func (db *DB) Sources(ctx context.Context) ([]home.SourceStatus, error) {
	return list(ctx, db.read, "read sources", func(rows *sql.Rows) (home.SourceStatus, error) {
		var s home.SourceStatus
		var at, arrived int64
		var stored, charged *int64
		err := rows.Scan(&s.Source, &at, &arrived, &stored, &s.Count, &charged, &s.Battery)
		s.Last, s.Arrived = time.UnixMicro(at).UTC(), time.UnixMicro(arrived).UTC()
		s.Stored, s.BatteryAt = fromMicros(stored), fromMicros(charged)
		return s, err
	}, `WITH heard AS (SELECT source, max(last) AS last, max(arrived) AS arrived, sum(n) AS n, max(iif(quantity = ?1, last, NULL)) AS charged FROM series GROUP BY source)
		SELECT s.text, h.last, h.arrived, (SELECT e.stored FROM series e WHERE e.source = h.source ORDER BY e.arrived DESC LIMIT 1), h.n, h.charged,
			coalesce((SELECT r.value FROM reading r WHERE r.source = h.source AND r.quantity = ?1 AND r.at = h.charged ORDER BY r.seq DESC LIMIT 1), 0)
		FROM heard h JOIN slug s ON s.id = h.source ORDER BY 1`, quantityCodes[home.Battery])
}
