package payload

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"strings"

	"github.com/fxamacker/cbor/v2"
	"github.com/go-json-experiment/json/jsontext"

	"weighbeam/home"
)

// UnmarshalJSONFrom reads one record. Labels are taken one by one as they stand: a map
// of them would cost more than all the rest of reading a pack.
func (f *fields) UnmarshalJSONFrom(dec *jsontext.Decoder) error {
	if dec.PeekKind() != '{' {
		return errors.New("a record is an object, as {\"n\":\"load\",\"v\":4.5}")
	}
	if _, err := dec.ReadToken(); err != nil {
		return err
	}
	for dec.PeekKind() != '}' {
		label, err := dec.ReadToken()
		if err != nil {
			return err
		}
		if err := f.label(label.String(), dec); err != nil {
			return err
		}
	}
	_, err := dec.ReadToken()
	return err
}

// label reads what stands under one label. Only what is no JSON is an error; what is no
// SenML is kept in f.bad.
func (f *fields) label(label string, dec *jsontext.Decoder) error {
	switch dec.PeekKind() {
	case '{', '[', 'n':
		f.take(label, nil)
		return dec.SkipValue()
	}
	token, err := dec.ReadToken()
	if err != nil {
		return err
	}
	f.take(label, plain(token))
	return nil
}

// plain is the value of a token that is neither object nor list.
func plain(t jsontext.Token) any {
	switch t.Kind() {
	case '0':
		if v := t.Float(); math.Abs(v) < math.MaxFloat64 {
			return v
		}
		return math.Inf(1) // too long for a number of 64 bits, which the library holds at its largest
	case '"':
		return t.String()
	}
	return t.Bool()
}

// take sets what stands under label, or keeps why it cannot. A label that ends in '_'
// must be understood and none is known, so it refuses the pack; others that are not
// known are passed over (RFC 8428, 4.4).
func (f *fields) take(label string, val any) {
	if err := f.set(label, val); err != nil && f.bad == nil {
		f.bad = fmt.Errorf("%q: %w", label, err)
	}
}

func (f *fields) set(label string, val any) error {
	if to := f.number(label); to != nil {
		return numeric(to, val)
	}
	if to := f.text(label); to != nil {
		return text(to, val)
	}
	switch {
	case label == "vb":
		flag, ok := val.(bool)
		if f.vb = &flag; !ok {
			return errors.New("no boolean")
		}
	case strings.HasSuffix(label, "_"):
		return errors.New("must be understood and is not")
	}
	return nil
}

// number is where the number under a label belongs, nil for other labels.
func (f *fields) number(label string) **float64 {
	switch label {
	case "v":
		return &f.v
	case "t":
		return &f.t
	case "bt":
		return &f.bt
	case "bv":
		return &f.bv
	case "bs":
		return &f.bs
	case "bver":
		return &f.bver
	case "s":
		return &f.s
	case "ut":
		return &f.ut
	}
	return nil
}

// text is where the text under a label belongs, nil for other labels.
func (f *fields) text(label string) **string {
	switch label {
	case "n":
		return &f.n
	case "u":
		return &f.u
	case "bn":
		return &f.bn
	case "bu":
		return &f.bu
	case "vs":
		return &f.vs
	case "vd":
		return &f.vd
	}
	return nil
}

func text(to **string, val any) error {
	switch s := val.(type) {
	case string:
		*to = &s
	case []byte: // vd in CBOR
		t := string(s)
		*to = &t
	default:
		return errors.New("no text")
	}
	return nil
}

func numeric(to **float64, val any) error {
	v, err := float(val)
	if err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		err = errors.New("not a finite number")
	}
	*to = &v
	return err
}

// float reads every form of number that either encoding has.
func float(val any) (float64, error) {
	switch v := val.(type) {
	case float64:
		return v, nil
	case float32:
		return float64(v), nil
	case int64:
		return float64(v), nil
	case uint64:
		return float64(v), nil
	case big.Int:
		f, _ := new(big.Float).SetInt(&v).Float64()
		return f, nil
	case cbor.Tag:
		return decimalFraction(v)
	}
	return 0, errors.New("no number")
}

// decimalFraction reads CBOR tag 4: exponent and mantissa to the base ten.
func decimalFraction(t cbor.Tag) (float64, error) {
	parts, ok := t.Content.([]any)
	if t.Number != 4 || !ok || len(parts) != 2 {
		return 0, errors.New("no number")
	}
	exp, err := float(parts[0])
	if err != nil || math.Abs(exp) > 400 {
		return 0, errors.New("no number")
	}
	mantissa, err := float(parts[1])
	if exp < 0 { // dividing by an exact power keeps 120.1 what it is
		return mantissa / math.Pow(10, -exp), err
	}
	return mantissa * math.Pow(10, exp), err
}

// cborLabels are the map keys of SenML in CBOR (RFC 8428, table 4).
var cborLabels = map[int64]string{
	-1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
	0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}

// cborMode refuses what SenML has no use for: repeated keys, deep nesting.
var cborMode = func() cbor.DecMode {
	mode, err := cbor.DecOptions{
		DupMapKey: cbor.DupMapKeyEnforcedAPF, MaxNestedLevels: 8, IntDec: cbor.IntDecConvertNone,
	}.DecMode()
	if err != nil {
		panic("payload: " + err.Error()) // the options above are constants
	}
	return mode
}()

// SenMLCBOR reads a SenML pack in CBOR; see [SenMLJSON].
func SenMLCBOR(b []byte, a Arrival, s home.Scale) ([]home.Reading, error) {
	pack, err := cborPack(b)
	if err != nil {
		return nil, fmt.Errorf("no SenML CBOR: %w", err)
	}
	return readPack(pack, a, s)
}

// cborPack decodes a pack and gives its labels the names that JSON uses.
func cborPack(b []byte) ([]fields, error) {
	var raw []map[any]any
	if err := cborMode.Unmarshal(b, &raw); err != nil {
		return nil, err
	}
	pack := make([]fields, len(raw))
	for i, m := range raw {
		seen := make(map[string]bool, len(m))
		for k, v := range m {
			label, ok := cborLabel(k)
			if !ok {
				continue
			}
			if seen[label] {
				return nil, fmt.Errorf("record %d: %q is there twice", i+1, label)
			}
			seen[label] = true
			pack[i].take(label, v)
		}
	}
	return pack, nil
}

func cborLabel(k any) (string, bool) {
	switch k := k.(type) {
	case string:
		return k, true
	case int64:
		label, ok := cborLabels[k]
		return label, ok
	case uint64:
		label, ok := cborLabels[int64(min(k, math.MaxInt64))]
		return label, ok
	}
	return "", false
}
