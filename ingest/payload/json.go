package payload

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/theory/jsonpath"

	"weighbeam/home"
)

// finder picks one value out of decoded JSON.
type finder func(doc any) (any, error)

// jsonShape is where the parts of a reading stand in a device's JSON.
type jsonShape struct {
	scale                            home.Scale
	value, time, seq, unit, cat, tag finder // nil where not given, but for value
}

// forJSON returns the decoder of "json:PATH", which may go on with further parts
// after ';', as in
//
//	json:/weight;time=/ts;seq=/n;unit=/u;cat=/who;tag=/chip
//
// A path that starts with '/' is a JSON Pointer (RFC 6901), one that starts with
// '$' is JSONPath (RFC 9535) and must select exactly one value. The value may be
// a number, or text that [ParseNumber] reads. A time is RFC 3339 text or a number of
// seconds, milliseconds, microseconds or nanoseconds since 1970, told apart by its size.
func forJSON(arg string, s home.Scale) (Decoder, error) {
	shape := jsonShape{scale: s}
	first, rest, _ := strings.Cut(arg, ";")
	var err error
	if shape.value, err = newFinder(first); err != nil {
		return nil, fmt.Errorf("scale %q: %w", s.ID, err)
	}
	for part := range strings.SplitSeq(rest, ";") {
		if rest == "" {
			break
		}
		if err := shape.part(part); err != nil {
			return nil, fmt.Errorf("scale %q: %w", s.ID, err)
		}
	}
	return limited(shape.read), nil
}

func (j *jsonShape) part(part string) error {
	name, path, _ := strings.Cut(part, "=")
	slots := map[string]*finder{"time": &j.time, "seq": &j.seq, "unit": &j.unit, "cat": &j.cat, "tag": &j.tag}
	slot, ok := slots[name]
	if !ok {
		return home.Hinted("read payload", "After the path of the value there may be time=, seq=, unit=, cat= and tag=, parted by ';'.",
			"unknown part %q", part)
	}
	f, err := newFinder(path)
	*slot = f
	return err
}

func newFinder(path string) (finder, error) {
	switch {
	case strings.HasPrefix(path, "/"):
		return pointer(path)
	case strings.HasPrefix(path, "$"):
		p, err := jsonpath.Parse(path)
		if err != nil {
			return nil, fmt.Errorf("path %q: %w", path, err)
		}
		return func(doc any) (any, error) {
			found := p.Select(doc)
			if len(found) != 1 {
				return nil, fmt.Errorf("%s selects %d values, not one", path, len(found))
			}
			return found[0], nil
		}, nil
	}
	return nil, home.Hinted("read payload", "Write a JSON Pointer, as json:/weight, or a JSONPath, as json:$.weight.",
		"path %q starts with neither '/' nor '$'", path)
}

// read decodes one payload by the shape.
func (j jsonShape) read(b []byte, a Arrival) ([]home.Reading, error) {
	if err := shallow(b); err != nil {
		return nil, err
	}
	var doc any
	if err := json.Unmarshal(b, &doc); err != nil {
		return nil, fmt.Errorf("no JSON: %w", plainJSON(err))
	}
	val, err := j.value(doc)
	if err != nil {
		return nil, err
	}
	v, unit, err := numberOrText(val)
	if err != nil {
		return nil, err
	}
	d := bare(j.scale, v, unit)
	if err := j.fill(&d, doc); err != nil {
		return nil, err
	}
	readings, err := one(d, a)
	if err != nil || j.tag == nil {
		return readings, err
	}
	return j.beside(readings, doc, d, a)
}

// fill adds the parts beside the value.
func (j jsonShape) fill(d *draft, doc any) error {
	if j.time != nil {
		val, err := j.time(doc)
		if err == nil {
			d.device, err = deviceTime(val)
		}
		if err != nil {
			return fmt.Errorf("time: %w", err)
		}
	}
	if j.seq != nil {
		val, err := j.seq(doc)
		n, isNumber := val.(float64)
		if err != nil || !isNumber || n != math.Trunc(n) || math.Abs(n) > 1<<53 {
			return fmt.Errorf("seq: no whole number (%v)", err)
		}
		d.Seq = int64(n)
	}
	if err := textPart(j.unit, doc, &d.unit); err != nil {
		return fmt.Errorf("unit: %w", err)
	}
	if code, ok := spokenUnits[d.unit]; ok {
		d.unit = code
	}
	if err := textPart(j.cat, doc, &d.Cat); err != nil {
		return fmt.Errorf("cat: %w", err)
	}
	return nil
}

func textPart(f finder, doc any, to *string) error {
	if f == nil {
		return nil
	}
	val, err := f(doc)
	if err != nil {
		return err
	}
	s, ok := val.(string)
	if !ok {
		return errors.New("no text")
	}
	*to = s
	return nil
}

func numberOrText(val any) (float64, string, error) {
	switch v := val.(type) {
	case float64:
		return v, "", nil
	case string:
		return ParseNumber(v)
	}
	return 0, "", fmt.Errorf("the value is no number but %s", jsonKind(val))
}

func jsonKind(val any) string {
	switch val.(type) {
	case nil:
		return "null"
	case bool:
		return "a boolean"
	case map[string]any:
		return "an object"
	}
	return "an array"
}

// deviceTime reads a time as devices write it. A number is taken in the unit
// that puts it between 1973 and 5138; smaller ones are seconds of a clock that
// was never set.
func deviceTime(val any) (time.Time, error) {
	switch v := val.(type) {
	case string:
		t, err := time.Parse(time.RFC3339, strings.TrimSpace(v))
		if err != nil {
			return t, fmt.Errorf("%.40q is no RFC 3339 time", v)
		}
		return t, nil
	case float64:
		for v >= 1e11 {
			v /= 1e3
		}
		if !(v > 0) {
			return time.Time{}, fmt.Errorf("%v is no time", v)
		}
		whole, part := math.Modf(v)
		return time.Unix(int64(whole), int64(part*1e9)).UTC(), nil
	}
	return time.Time{}, fmt.Errorf("a time is text or a number, not %s", jsonKind(val))
}
