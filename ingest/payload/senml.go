package payload

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"weighbeam/home"
)

// SenMLJSON reads a SenML pack in JSON. s is the scale that claims the topic, or
// the zero Scale where none does: then every name must name its source.
// A pack that is not well formed is refused whole, since every record may lean
// on the base fields of an earlier one; a record that cannot be used costs itself.
func SenMLJSON(b []byte, a Arrival, s home.Scale) ([]home.Reading, error) {
	if err := shallow(b); err != nil {
		return nil, err
	}
	var pack []fields
	if err := json.Unmarshal(b, &pack); err != nil {
		return nil, fmt.Errorf("no SenML JSON, which is a list of records: %w", plainJSON(err))
	}
	return readPack(pack, a, s)
}

// maxDepth is how deep JSON may nest. SenML needs 2; a device that wraps its
// value deeper than this does not exist.
const maxDepth = 32

// shallow refuses JSON that nests too deep before anything recursive sees it.
func shallow(b []byte) error {
	if bytes.Count(b, []byte{'['})+bytes.Count(b, []byte{'{'}) <= maxDepth {
		return nil // what opens so seldom cannot nest deeper
	}
	dec := jsontext.NewDecoder(bytes.NewBuffer(b))
	for dec.StackDepth() <= maxDepth {
		if _, err := dec.ReadToken(); err != nil {
			return nil // the end, or an error that the reading proper reports
		}
	}
	return fmt.Errorf("JSON nests deeper than %d", maxDepth)
}

// plainJSON cuts a JSON error to what its writer needs: where and what.
func plainJSON(err error) error {
	var syn *jsontext.SyntacticError
	if errors.As(err, &syn) {
		if strings.Contains(syn.Err.Error(), "in literal") { // a word that begins like true, false or null
			return fmt.Errorf("at byte %d: text that is not in quotes", syn.ByteOffset)
		}
		return fmt.Errorf("at byte %d: %w", syn.ByteOffset, syn.Err)
	}
	var sem *json.SemanticError
	switch {
	case !errors.As(err, &sem):
		return err
	case sem.Err != nil:
		return fmt.Errorf("at %q: %w", sem.JSONPointer, sem.Err)
	}
	return fmt.Errorf("it is %s", kindWords[sem.JSONKind])
}

var kindWords = map[jsontext.Kind]string{'f': "false", 't': "true", '"': "a text", '0': "a number", '{': "one object"}

// readPack turns records of either encoding into readings.
func readPack(pack []fields, a Arrival, s home.Scale) ([]home.Reading, error) {
	records, err := resolve(pack)
	if err != nil {
		return nil, err
	}
	said, bad := asides(records, s)
	for _, rec := range records {
		a.see(rec.at(a.Time), rec.relative())
	}
	var readings []home.Reading // most records of a long pack may be no readings
	seen := apart{}
	for _, rec := range records {
		if rec.aside() {
			continue
		}
		r, err := rec.reading(a, s, said)
		if err == nil {
			err = seen.check(r)
		}
		if err != nil {
			bad.add(fmt.Sprintf("record %d", rec.index+1), err)
			continue
		}
		readings = append(readings, r)
	}
	if len(readings) == 0 && bad.count == 0 {
		return nil, errors.New("the pack holds no reading")
	}
	return readings, bad.err()
}

// source returns the source that rec's name stands for.
func (rec record) source(s home.Scale) (string, error) {
	device, _ := rec.split()
	switch {
	case s.ID == "" && device == "":
		return "", fmt.Errorf("name %q names no source, and no scale claims the topic", rec.name)
	case s.ID == "" && home.ValidID("source", device) != nil:
		return "", fmt.Errorf("name %q: %w", rec.name, home.ValidID("source", device))
	case s.ID == "":
		return device, nil
	case device != "" && device != s.ID && home.ValidID("source", device) == nil:
		return "", fmt.Errorf("name %q is for %q, but the topic belongs to %q", rec.name, device, s.ID)
	}
	return s.ID, nil
}

// split parts a name at its last ':' or '/'.
func (rec record) split() (device, last string) {
	i := strings.LastIndexAny(rec.name, ":/")
	if i < 0 {
		return "", rec.name
	}
	return rec.name[:i], rec.name[i+1:]
}

// aside reports whether rec speaks about other records.
func (rec record) aside() bool {
	switch _, last := rec.split(); last {
	case "seq", "cat", "window_s", "state", "note":
		return true
	}
	return false
}

// asides collects, by source, what a pack says about its own readings.
func asides(records []record, s home.Scale) (map[string]home.Reading, *problems) {
	var said map[string]home.Reading // most packs say nothing
	bad := &problems{}
	for _, rec := range records {
		if !rec.aside() {
			continue
		}
		source, err := rec.source(s)
		r := said[source]
		if err == nil {
			err = rec.tell(&r)
		}
		if err != nil {
			bad.add(fmt.Sprintf("record %d", rec.index+1), err)
			continue
		}
		if said == nil {
			said = map[string]home.Reading{}
		}
		said[source] = r
	}
	return said, bad
}

// tell puts what rec says into r.
func (rec record) tell(r *home.Reading) error {
	_, last := rec.split()
	switch last {
	case "seq":
		if rec.value == nil || *rec.value != math.Trunc(*rec.value) || math.Abs(*rec.value) > 1<<53 {
			return fmt.Errorf("a sequence number is a whole number below 2^53")
		}
		r.Seq = int64(*rec.value)
		return nil
	case "window_s":
		if rec.value == nil || !(*rec.value > 0) || *rec.value > 1e6 {
			return fmt.Errorf("window_s is a number of seconds")
		}
		r.Window = time.Duration(*rec.value * float64(time.Second))
		return nil
	}
	if rec.text == nil {
		return fmt.Errorf("%s is text: use vs", last)
	}
	switch last {
	case "cat":
		r.Cat = *rec.text
	case "state":
		r.State = home.State(*rec.text)
	case "note":
		r.Note = *rec.text
	}
	return nil
}

// reading turns one record into a reading.
func (rec record) reading(a Arrival, s home.Scale, said map[string]home.Reading) (home.Reading, error) {
	source, err := rec.source(s)
	if err != nil {
		return home.Reading{}, err
	}
	q, err := rec.quantity(s)
	if err != nil {
		return home.Reading{}, err
	}
	if q == home.Battery && rec.unit != "%" && rec.unit != "%EL" {
		return home.Reading{}, fmt.Errorf("%w: the charge of a battery is watched in %% only, not in %q", ErrForeign, rec.unit)
	}
	if rec.value == nil {
		return home.Reading{}, fmt.Errorf("%q has no number (v)", rec.name)
	}
	d := draft{Reading: said[source]}
	d.Source, d.Quantity, d.Value = source, q, *rec.value
	if !q.Counted() {
		d.Window, d.State = 0, ""
	}
	if d.unit, d.Value, err = senmlUnit(rec.unit, d.Value, q, s); err != nil {
		return home.Reading{}, err
	}
	d.device, d.relative = rec.at(a.Time), rec.relative()
	return d.finish(a)
}

// quantity is what rec measures.
func (rec record) quantity(s home.Scale) (home.Quantity, error) {
	_, last := rec.split()
	if last == "" && s.ID != "" {
		return s.Measures(), nil
	}
	q, err := home.ParseQuantity(last)
	if err != nil {
		return "", fmt.Errorf("%w: name %q ends in no quantity of ours", ErrForeign, rec.name)
	}
	return q, nil
}

// senmlUnits maps the units of the SenML registry (RFC 8428, section 12.1, and
// RFC 8798 for ms, min and h) to UCUM, with the factor between them. Units that
// both spell alike need no row.
var senmlUnits = map[string]struct {
	ucum   string
	factor float64
}{
	"count": {"{count}", 1}, "beats": {"{beats}", 1}, "m3": {"L", 1000}, "/": {"1", 1}, "%EL": {"%", 1},
}

// senmlUnit returns the UCUM unit and the value in it.
func senmlUnit(u string, v float64, q home.Quantity, s home.Scale) (string, float64, error) {
	if m, ok := senmlUnits[u]; ok {
		return m.ucum, v * m.factor, nil
	}
	switch {
	case u != "":
		return u, v, nil
	case q.Counted() || q == home.Tag:
		return q.Unit(), v, nil
	case s.ID != "" && q == s.Measures():
		return unitOf(s), v, nil
	}
	return "", 0, fmt.Errorf("%s has no unit: send u, as \"kg\" or \"g\"", q)
}
