package payload

import (
	"errors"
	"fmt"
	"math"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"weighbeam/home"
)

// Line reads InfluxDB line protocol with times in nanoseconds.
//
// Where field is named, that field of each line is a number of s. Where it is
// not, a line must be in the form that this program itself writes: measurement
// "reading", tags source, quantity and perhaps cat, fields value and perhaps sd
// in the quantity's own unit. A bad line costs itself.
func Line(b []byte, a Arrival, s home.Scale, field string) ([]home.Reading, error) {
	dec := lineprotocol.NewDecoderWithBytes(b)
	type numbered struct {
		draft
		line int
	}
	var drafts []numbered // their times tell about one another: dated when all are read
	var readings []home.Reading
	bad, seen := &problems{}, apart{}
	for n := 1; dec.Next(); n++ {
		d, err := line(dec, s, field)
		if err != nil {
			bad.add(fmt.Sprintf("line %d", n), err)
			continue
		}
		a.see(d.device, false)
		drafts = append(drafts, numbered{d, n})
	}
	if err := dec.Err(); err != nil {
		bad.add("line protocol", err)
	}
	for _, d := range drafts {
		r, err := d.finish(a)
		if err == nil {
			err = seen.check(r)
		}
		if err != nil {
			bad.add(fmt.Sprintf("line %d", d.line), err)
			continue
		}
		readings = append(readings, r)
	}
	if len(readings) == 0 && bad.count == 0 {
		return nil, errors.New("no line")
	}
	return readings, bad.err()
}

func line(dec *lineprotocol.Decoder, s home.Scale, field string) (draft, error) {
	name, err := dec.Measurement()
	if err != nil {
		return draft{}, err
	}
	own := field == ""
	if own && string(name) != "reading" {
		return draft{}, fmt.Errorf("measurement %q: name the field, as line:weight", name)
	}
	d := bare(s, math.NaN(), "")
	if err := tags(dec, &d, own, s); err != nil {
		return d, err
	}
	if err := values(dec, &d, own, field); err != nil {
		return d, err
	}
	if d.device, err = dec.Time(lineprotocol.Nanosecond, time.Time{}); err != nil {
		return d, err
	}
	if math.IsNaN(d.Value) {
		return d, fmt.Errorf("%w: the line has no number in its field", ErrForeign)
	}
	return d, nil
}

// tags reads the tags of a line; only the program's own form gives them a meaning.
func tags(dec *lineprotocol.Decoder, d *draft, own bool, s home.Scale) error {
	for {
		key, val, err := dec.NextTag()
		if err != nil || key == nil {
			return err
		}
		if !own {
			continue
		}
		switch string(key) {
		case "source":
			if s.ID != "" && string(val) != s.ID {
				return fmt.Errorf("source %q, but the topic belongs to %q", val, s.ID)
			}
			d.Source = string(val)
		case "quantity":
			if d.Quantity, err = home.ParseQuantity(string(val)); err != nil {
				return err
			}
			d.unit = d.Quantity.Unit()
		case "cat":
			d.Cat = string(val)
		}
	}
}

// values reads the fields of a line.
func values(dec *lineprotocol.Decoder, d *draft, own bool, field string) error {
	if own {
		field = "value"
	}
	for {
		key, val, err := dec.NextField()
		if err != nil || key == nil {
			return err
		}
		switch string(key) {
		case field:
			if d.Value, err = lineNumber(val); err != nil {
				return err
			}
		case "sd":
			if d.SD, err = lineNumber(val); own && err != nil {
				return err
			}
		}
	}
}

func lineNumber(v lineprotocol.Value) (float64, error) {
	switch n := v.Interface().(type) {
	case float64:
		return n, nil
	case int64:
		return float64(n), nil
	case uint64:
		return float64(n), nil
	}
	return 0, fmt.Errorf("%s is no number", v)
}
