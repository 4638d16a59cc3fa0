package payload

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
)

// senmlVersion is the version of the SenML data model that is read (RFC 8428, 4.4).
const senmlVersion = 10

// relativeBelow parts times relative to now from times since 1970, in seconds
// (RFC 8428, 4.5.3).
const relativeBelow = 1 << 28

// record is a resolved SenML record: the base fields are worked in.
type record struct {
	index int // its place in the pack, from 0
	name  string
	unit  string
	value *float64
	text  *string
	flag  *bool
	data  *string
	sum   *float64
	time  float64 // seconds, relative where below relativeBelow
}

// at is when rec was true, the zero time where the device did not say. A time
// relative to now counts from the arrival.
func (rec record) at(arrived time.Time) time.Time {
	if rec.time == 0 {
		return time.Time{}
	}
	if rec.relative() {
		return arrived.Add(seconds(rec.time))
	}
	whole, part := math.Modf(rec.time)
	return time.Unix(int64(whole), int64(math.Round(part*1e9))).UTC()
}

// relative reports whether the time of rec counts from now.
func (rec record) relative() bool { return rec.time < relativeBelow }

// seconds turns a relative time into a duration, held inside what one can be.
func seconds(s float64) time.Duration {
	const most = 1 << 32 // s, well within time.Duration
	return time.Duration(max(-most, min(most, s)) * float64(time.Second))
}

// fields is one record as sent: the labels of RFC 8428, table 1.
type fields struct {
	bver                 *float64
	bn, bu, n, u, vs, vd *string
	bt, bv, bs, v, s, t  *float64
	ut                   *float64
	vb                   *bool
	bad                  error // the first label whose value cannot be used
}

// base is what the records so far handed down.
type base struct {
	name, unit       string
	time, value, sum float64
	version          float64
}

// resolve applies the base fields, record by record (RFC 8428, 4.6). Records
// that only set base fields are left out.
func resolve(pack []fields) ([]record, error) {
	if len(pack) == 0 {
		return nil, errors.New("the SenML pack is empty")
	}
	b := base{version: senmlVersion}
	records := make([]record, 0, len(pack))
	for i, f := range pack {
		err := f.bad
		if err == nil {
			err = b.take(f, i)
		}
		if err != nil {
			return nil, fmt.Errorf("record %d: %w", i+1, err)
		}
		if f.valueless() && f.n == nil && f.t == nil {
			continue
		}
		rec, err := b.record(f)
		if err != nil {
			return nil, fmt.Errorf("record %d: %w", i+1, err)
		}
		rec.index = i
		records = append(records, rec)
	}
	return records, nil
}

// valueless reports a record that carries no value of any kind.
func (f fields) valueless() bool {
	return f.v == nil && f.vs == nil && f.vb == nil && f.vd == nil && f.s == nil
}

// take updates b with the base fields of record i.
func (b *base) take(f fields, i int) error {
	set(&b.name, f.bn)
	set(&b.unit, f.bu)
	set(&b.time, f.bt)
	set(&b.value, f.bv)
	set(&b.sum, f.bs)
	if f.bver == nil {
		return nil
	}
	switch v := *f.bver; {
	case v != math.Trunc(v) || v < 1:
		return fmt.Errorf("bver %v is no version", v)
	case v > senmlVersion:
		return fmt.Errorf("SenML version %v: up to %d is read", v, senmlVersion)
	case i > 0 && v != b.version:
		return fmt.Errorf("bver changes from %v to %v within the pack", b.version, v)
	}
	b.version = *f.bver
	return nil
}

func set[T any](to *T, from *T) {
	if from != nil {
		*to = *from
	}
}

// record resolves f against b.
func (b base) record(f fields) (record, error) {
	rec := record{name: b.name, unit: b.unit, time: b.time, text: f.vs, flag: f.vb, data: f.vd}
	if f.n != nil {
		rec.name += *f.n
	}
	if err := validName(rec.name); err != nil {
		return rec, err
	}
	if f.u != nil && *f.u != "" {
		rec.unit = *f.u
	}
	if f.t != nil {
		rec.time += *f.t
	}
	if f.v != nil {
		v := b.value + *f.v
		rec.value = &v
	}
	if f.s != nil {
		s := b.sum + *f.s
		rec.sum = &s
	}
	return rec, f.oneValue()
}

// oneValue checks that f carries exactly one value, or none beside a sum (RFC 8428, 4.2).
func (f fields) oneValue() error {
	n := 0
	for _, has := range []bool{f.v != nil, f.vs != nil, f.vb != nil, f.vd != nil} {
		if has {
			n++
		}
	}
	if n > 1 {
		return errors.New("more than one of v, vs, vb and vd")
	}
	if n == 0 && f.s == nil {
		return errors.New("no value: give v")
	}
	return nil
}

// validName checks the characters of a name (RFC 8428, 4.5.1). An empty one is
// let through: where a scale claims the topic the topic names the source.
func validName(name string) error {
	for i, c := range []byte(name) {
		switch {
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z', isDigit(c):
		case i > 0 && strings.IndexByte("-:./_", c) >= 0:
		default:
			return fmt.Errorf("name %q: %q cannot stand there", name, string(rune(c)))
		}
	}
	return nil
}
