package detect

import (
	"math"
	"time"

	"weighbeam/detect/stat"
)

// daily adds up an amount by UTC day. A day on which nothing came is missing, not
// zero: a bowl that is off looks the same as one that is not touched.
type daily struct {
	day    int // that is open
	sum    float64
	n      int
	values []float64 // of the days before it, oldest first; NaN where missing
	last   time.Time // newest amount
}

// dailyKept is how many days are looked at.
const dailyKept = 90

func (d *daily) add(at time.Time, amount float64) {
	d.closeBefore(dayOf(at))
	d.sum, d.n, d.last = d.sum+amount, d.n+1, at
}

// closeBefore closes the days before day and reports whether there were any.
func (d *daily) closeBefore(day int) bool {
	if d.last.IsZero() {
		d.day = day
		return false
	}
	if day <= d.day {
		return false
	}
	for ; d.day < day; d.day++ {
		v := math.NaN()
		if d.n > 0 {
			v = d.sum
		}
		d.values = append(d.values, v)
		d.sum, d.n = 0, 0
	}
	d.values = d.values[max(0, len(d.values)-dailyKept):]
	return true
}

// newest are the values of the last n days, and those of the days before them,
// with gap days between.
func (d *daily) newest(n, gap, before int) (newer, older []float64) {
	end := max(0, len(d.values)-n)
	mid := max(0, end-gap)
	return d.values[end:], d.values[max(0, mid-before):mid]
}

// known is how many of x are there.
func known(x []float64) int {
	n := 0
	for _, v := range x {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// present are the values of x that are there.
func present(x []float64) []float64 {
	out := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			out = append(out, v)
		}
	}
	return out
}

// moved compares the last week with the six weeks a week before it: the ratio of
// their medians and, where that matters, the robust z (see stat.RobustZ), or that of
// the last two weeks where it is surer: what is lost a little a day takes so long to
// tell from chance. ok is false where it does not matter, or too few days are known.
func (d *daily) moved(matters func(ratio float64) bool) (m movement, ok bool) {
	m, ok = d.movedIn(7, matters)
	if !ok {
		return m, false
	}
	if longer, ok := d.movedIn(14, matters); ok && math.Abs(longer.z) > math.Abs(m.z) {
		m.z = longer.z
	}
	return m, true
}

func (d *daily) movedIn(recent int, matters func(ratio float64) bool) (m movement, ok bool) {
	newer, older := d.newest(recent, 7, 42)
	if known(newer) < recent*5/7 || known(older) < 21 {
		return movement{}, false
	}
	m.before, m.after = stat.Median(present(older)), stat.Median(present(newer))
	if !(m.before > 0) || !matters(m.ratio()) {
		return movement{}, false
	}
	m.z, m.days = stat.RobustZ(newer, older), known(newer)
	return m, !math.IsNaN(m.z)
}

type movement struct {
	before, after float64 // a day
	z             float64
	days          int
}

func (m movement) ratio() float64 { return m.after / m.before }
