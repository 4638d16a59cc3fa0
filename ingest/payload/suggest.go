package payload

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"weighbeam/home"
)

// maxSuggested is how many ways to read a payload are suggested at most.
const maxSuggested = 20

// maxGuessed is the longest payload that is looked into: no scale sends more at a time.
const maxGuessed = 64 << 10

// Suggest returns the values of home.Scale.Payload under which b has a number, the
// likelier first. It looks at the form alone: whether the number is a weight, and
// in which unit, only a person knows.
func Suggest(b []byte) []string {
	if len(b) > maxGuessed {
		return nil
	}
	var kinds []string
	trial := home.Scale{ID: "trial", Kind: home.Floor}
	for _, kind := range []string{"senml", "number", "csv", "senml-cbor"} {
		trial.Payload = kind
		if decode, err := ForScale(trial); err == nil && reads(decode, kind, b) {
			kinds = append(kinds, kind)
		}
	}
	kinds = append(kinds, jsonPaths(b)...)
	kinds = append(kinds, lineFields(b)...)
	return kinds[:min(len(kinds), maxSuggested)]
}

// reads reports whether b has the form of kind. A number alone may be out of the
// range of a weight in kg and still be one in grams.
func reads(decode Decoder, kind string, b []byte) bool {
	if kind == "number" {
		_, _, err := ParseNumber(string(b[:min(len(b), 2*maxNumber)]))
		return err == nil
	}
	readings, _ := decode(b, Arrival{Time: EarliestClock})
	return len(readings) > 0
}

// jsonPaths are the pointers to the numbers of a JSON document.
func jsonPaths(b []byte) []string {
	var doc any
	if shallow(b) != nil || json.Unmarshal(b, &doc) != nil {
		return nil
	}
	var found []string
	leaves(doc, "", func(path string, v any) {
		if n, _, err := numberOrText(v); path != "" && err == nil && !math.IsNaN(n) && len(found) < 4*maxSuggested {
			found = append(found, "json:"+path)
		}
	})
	slices.SortStableFunc(found, func(x, y string) int { return likely(y) - likely(x) })
	return found
}

// leaves calls f for each value of doc that has no parts, members by name.
func leaves(doc any, path string, f func(path string, v any)) {
	switch d := doc.(type) {
	case map[string]any:
		names := make([]string, 0, len(d))
		for name := range d {
			if !strings.Contains(name, ";") { // which ends a path, see [forJSON]
				names = append(names, name)
			}
		}
		slices.Sort(names)
		for _, name := range names {
			leaves(d[name], path+"/"+strings.NewReplacer("~", "~0", "/", "~1").Replace(name), f)
		}
	case []any:
		for i, v := range d {
			leaves(v, fmt.Sprintf("%s/%d", path, i), f)
		}
	default:
		f(path, doc)
	}
}

// likely is 1 for a name that speaks of a mass.
func likely(path string) int {
	last := strings.ToLower(path[strings.LastIndex(path, "/")+1:])
	for _, word := range []string{"weight", "mass", "load", "gram", "kg", "value"} {
		if strings.Contains(last, word) {
			return 1
		}
	}
	return 0
}

// lineFields are the numbers of the first line of line protocol.
func lineFields(b []byte) []string {
	dec := lineprotocol.NewDecoderWithBytes(b)
	if !dec.Next() {
		return nil
	}
	if _, err := dec.Measurement(); err != nil {
		return nil
	}
	for {
		if key, _, err := dec.NextTag(); err != nil {
			return nil
		} else if key == nil {
			break
		}
	}
	var found []string
	for {
		key, val, err := dec.NextField()
		if err != nil || key == nil {
			return found
		}
		if _, err := lineNumber(val); err == nil {
			found = append(found, "line:"+string(key))
		}
	}
}
