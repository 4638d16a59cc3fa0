package payload

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// MaxBytes is the largest payload that is read. Longer ones are refused whole.
const MaxBytes = 1 << 20

// Arrival is how a payload reached the house.
type Arrival struct {
	Time     time.Time
	Retained bool // a copy that a broker kept from earlier
	Resent   bool // its sender says that it may have sent it before

	newest [wrongClocks]time.Time // of the payload, by what is wrong with the clock; see see
}

// Decoder reads one payload. It returns the readings it understood, each valid,
// and an error for what it did not: either may be empty, both may be given.
type Decoder func(payload []byte, a Arrival) ([]home.Reading, error)

// ErrForeign marks, by errors.Is, an error that says only that a payload carries
// things that are not watched, as a battery voltage beside a load.
var ErrForeign = errors.New("not watched")

// ErrUndated marks, by errors.Is, a retained copy that does not say when it was true.
var ErrUndated = errors.New("a copy that the broker kept and that carries no time of its own: nobody knows when it was true")

// ForScale returns the decoder for what s sends, as its Payload says:
//
//	senml         SenML JSON, RFC 8428 (also when empty)
//	senml-cbor    SenML CBOR, RFC 8428
//	number        a number, with or without a unit, point or comma
//	json:PATH     a number in JSON, see [forJSON] for paths and further parts
//	line:FIELD    a field of InfluxDB line protocol
//	csv           the readings CSV
//
// The error names the choices, or what is wrong with the path.
func ForScale(s home.Scale) (Decoder, error) {
	kind, arg, _ := strings.Cut(s.Payload, ":")
	switch kind {
	case "", "senml":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) { return SenMLJSON(b, a, s) }), nil
	case "senml-cbor":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) { return SenMLCBOR(b, a, s) }), nil
	case "number":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) { return number(b, a, s) }), nil
	case "json":
		return forJSON(arg, s)
	case "line":
		return limited(func(b []byte, a Arrival) ([]home.Reading, error) { return Line(b, a, s, arg) }), nil
	case "csv":
		return limited(csvOf(s)), nil
	}
	return nil, home.Hinted("read payload", "Use senml, senml-cbor, number, json:PATH, line:FIELD or csv.",
		"scale %q: unknown payload %q", s.ID, s.Payload)
}

// limited refuses payloads that are too long before d sees them.
func limited(d Decoder) Decoder {
	return func(b []byte, a Arrival) ([]home.Reading, error) {
		if len(b) > MaxBytes {
			return nil, fmt.Errorf("payload has %d bytes: at most %d are read", len(b), MaxBytes)
		}
		return d(b, a)
	}
}

// unitOf is the unit of a bare number from s.
func unitOf(s home.Scale) string {
	if s.Unit == "" {
		return "kg"
	}
	return s.Unit
}
