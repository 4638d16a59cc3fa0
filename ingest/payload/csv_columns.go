package payload

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"weighbeam/home"
)

// Columns is the header of the readings CSV as it is written. The first four are
// needed when reading, in any order; all others may be missing. The last five carry
// what a full copy of a store needs.
var Columns = []string{
	"time", "source", "quantity", "value", "unit", "cat", "window_s", "state", "note",
	"sd", "seq", "arrived", "clock", "retained",
}

const needed = 4

// setter puts the text of one cell into a draft.
type setter func(d *draft, cell string) error

var setters = map[string]setter{
	"time": func(d *draft, s string) (err error) { d.Time, err = parseTime(s); return err },
	"source": func(d *draft, s string) error {
		d.Source = s
		return nil
	},
	"quantity": func(d *draft, s string) (err error) { d.Quantity, err = home.ParseQuantity(s); return err },
	"value":    func(d *draft, s string) (err error) { d.Value, err = parseCell(s); return err },
	"unit":     func(d *draft, s string) error { d.unit = s; return nil },
	"cat":      func(d *draft, s string) error { d.Cat = s; return nil },
	"window_s": func(d *draft, s string) error {
		v, err := parseCell(s)
		if err == nil && !(v >= 0 && v < 1e6) {
			err = fmt.Errorf("%q is no number of seconds", s)
		}
		d.Window = time.Duration(math.Round(v * float64(time.Second)))
		return err
	},
	"state":   func(d *draft, s string) (err error) { d.State, err = home.ParseState(s); return err },
	"note":    func(d *draft, s string) error { d.Note = s; return nil },
	"sd":      func(d *draft, s string) (err error) { d.SD, err = parseCell(s); return err },
	"seq":     func(d *draft, s string) (err error) { d.Seq, err = strconv.ParseInt(s, 10, 64); return err },
	"arrived": func(d *draft, s string) (err error) { d.Arrived, err = parseTime(s); return err },
	"clock": func(d *draft, s string) error {
		switch d.Clock = home.Clock(s); d.Clock {
		case home.ByDevice, home.ByArrival, home.ByHand:
			return nil
		}
		return fmt.Errorf("unknown clock %q: use device, arrival or hand", s)
	},
	"retained": func(d *draft, s string) (err error) { d.Retained, err = strconv.ParseBool(s); return err },
}

func parseTime(s string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		return t, fmt.Errorf("%.40q is no RFC 3339 time, as 2025-03-03T04:05:06Z", s)
	}
	return t, nil
}

func parseCell(s string) (float64, error) {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		if strings.Contains(s, ",") {
			return 0, fmt.Errorf("%.40q is no number: write a decimal point", s)
		}
		return 0, fmt.Errorf("%.40q is no number", s)
	}
	return v, nil
}

// formatRow is the counterpart of the setters: one cell for each of Columns.
func formatRow(r home.Reading, row []string) []string {
	return append(row[:0],
		r.Time.UTC().Format(time.RFC3339Nano), r.Source, string(r.Quantity),
		formatNumber(r.Value), r.Quantity.Unit(), r.Cat, formatSpan(r.Window), string(r.State), r.Note,
		formatUnless0(r.SD), formatSeq(r.Seq), r.Arrived.UTC().Format(time.RFC3339Nano), string(r.Clock), formatFlag(r.Retained),
	)
}

func formatNumber(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

func formatUnless0(v float64) string {
	if v == 0 {
		return ""
	}
	return formatNumber(v)
}

func formatSpan(d time.Duration) string { return formatUnless0(d.Seconds()) }

func formatSeq(n int64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatInt(n, 10)
}

func formatFlag(b bool) string {
	if !b {
		return ""
	}
	return "true"
}
