package store

import (
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"weighbeam/home"
)

// How a reading of a device that has no clock but counts is known to be a second
// delivery. The number alone does not tell: counters begin anew when their device does,
// and small ones come round. Where it is not sure, the reading is stored: one that is
// there twice can be seen, one that is lost cannot.
const (
	// A broker, or a device, that sends again after an outage says so: it had no
	// acknowledgement, however long ago that was.
	resentWithin = 7 * 24 * time.Hour

	// A device that sends again to a broker outside is not heard to say so. It does it when
	// it finds its connection dead and has made another (common practice, no published source).
	unsaidWithin = 2 * time.Minute

	// How many numbers a device may be ahead of what it sends again unsaid: more than are
	// on the way at once, fewer than a counter of eight bits has (common practice, no
	// published source).
	unsaidBehind = 100

	// How many readings before each of two copies are compared to find out whether the
	// device counted from the start between them.
	remembered = 32
)

// numbered recognises the second delivery of a reading whose device has no clock
// but counts: its time of arrival differs; its number, its value and how far it was
// behind do not.
func (a *appender) numbered(r home.Reading, source int64) (bool, error) {
	if r.Clock != home.ByArrival || r.Seq == 0 {
		return false, nil
	}
	within := unsaidWithin
	if r.Resent {
		within = resentWithin
	}
	var value float64
	var first int64
	err := a.QueryRowContext(a.ctx, `SELECT value, at FROM reading
		WHERE source = ? AND quantity = ? AND seq = ? AND clock = 2 AND seq <> 0 AND lag = ? AND at BETWEEN ? AND ? ORDER BY at DESC LIMIT 1`,
		source, quantityCodes[r.Quantity], r.Seq, r.Arrived.Sub(r.Time).Microseconds(),
		r.Time.Add(-within).UnixMicro(), r.Time.UnixMicro()).Scan(&value, &first)
	if errors.Is(err, sql.ErrNoRows) || err == nil && !same(value, r.Value) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	if anew, err := a.countsAnew(r, source, first); err != nil || anew {
		return false, err
	}
	a.tally.Duplicate++
	return true, nil
}

// countsAnew reports whether the device of r has begun to count from the start since
// it was at the number of r, which was first, in microseconds.
func (a *appender) countsAnew(r home.Reading, source, first int64) (bool, error) {
	var latest int64
	err := a.QueryRowContext(a.ctx, `SELECT seq FROM reading WHERE source = ? AND quantity = ? AND at <= ? ORDER BY at DESC, seq DESC LIMIT 1`,
		source, quantityCodes[r.Quantity], r.Time.UnixMicro()).Scan(&latest)
	switch {
	case err != nil:
		return false, err
	case latest >= r.Seq:
		return !r.Resent && latest-r.Seq > unsaidBehind, nil
	case !r.Resent:
		return true, nil
	}
	return a.cameAgain(r, source, first)
}

// cameAgain reports whether a number that came shortly before r had also come shortly
// before the first copy of r. A broker that has kept messages through an outage can hand
// out new ones before those, and the new ones once more after them (mosquitto 2.0 does):
// the newest number is then below that of r though nothing began anew. But within one
// count no number is stored twice. Not told apart is a device that began anew, has left
// out every one of those numbers and repeats the value: rarer than the order above.
func (a *appender) cameAgain(r home.Reading, source, first int64) (came bool, err error) {
	quantity := quantityCodes[r.Quantity]
	const before = `SELECT seq FROM reading WHERE source = ? AND quantity = ? AND at > ? AND at <= ? ORDER BY at DESC, seq DESC LIMIT ?`
	err = a.QueryRowContext(a.ctx, `SELECT EXISTS (SELECT 1 FROM (`+before+`) WHERE seq < ? AND seq IN (SELECT seq FROM (`+before+`)))`,
		source, quantity, first, r.Time.UnixMicro(), remembered,
		r.Seq, source, quantity, 0, first, remembered).Scan(&came)
	return came, err
}

// same compares to the bit.
func same(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) }

// again settles a reading whose identity is taken: a duplicate if it says the
// same, set aside if it says something else.
func (a *appender) again(r home.Reading, source, cat int64) error {
	was := home.Reading{Quantity: r.Quantity}
	var window int64
	err := a.QueryRowContext(a.ctx, `SELECT value, coalesce(window, 0), coalesce(state, '') FROM reading
		WHERE source=? AND quantity=? AND at=? AND seq=? AND cat=?`,
		source, quantityCodes[r.Quantity], r.Time.UnixMicro(), r.Seq, cat).Scan(&was.Value, &window, &was.State)
	if err != nil {
		return err
	}
	was.Window = time.Duration(window) * time.Microsecond
	if same(was.Value, r.Value) && was.Window == r.Window.Truncate(time.Microsecond) && was.State == r.State {
		a.tally.Duplicate++
		return nil
	}
	payload, err := json.Marshal(r)
	if err != nil {
		return err
	}
	why := "the same source, time and sequence number already said " + inWords(was)
	if a.refused != nil {
		a.refused(why)
	}
	return a.setAside(home.SetAside{Arrived: r.Arrived, Way: "store", Topic: r.Source + ":" + string(r.Quantity), Payload: payload, Reason: why})
}

// inWords is what a reading says: a count is nothing without its window and state.
func inWords(r home.Reading) string {
	if !r.Quantity.Counted() {
		return fmt.Sprintf("%.6g", r.Value)
	}
	return fmt.Sprintf("%.6g in %.6g s, %s", r.Value, r.Window.Seconds(), r.State)
}
