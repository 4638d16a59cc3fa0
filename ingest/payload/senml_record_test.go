package payload

import (
	"encoding/hex"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/go-json-experiment/json"

	"weighbeam/home"
)

// packOf decodes JSON as SenMLJSON does.
func packOf(t *testing.T, text string) []fields {
	t.Helper()
	var pack []fields
	if err := json.Unmarshal([]byte(text), &pack); err != nil {
		t.Fatal(err)
	}
	return pack
}

type wantRecord struct {
	name, unit string
	time       float64
	value      any // float64, string, bool, or "data:..." for vd
}

func (w wantRecord) check(t *testing.T, got record) {
	t.Helper()
	var value any
	switch {
	case got.value != nil:
		value = *got.value
	case got.text != nil:
		value = *got.text
	case got.flag != nil:
		value = *got.flag
	case got.data != nil:
		value = "data:" + *got.data
	}
	if got.name != w.name || got.unit != w.unit || math.Abs(got.time-w.time) > 1e-6 || value != w.value {
		t.Errorf("got %q %q at %.3f = %v, want %+v", got.name, got.unit, got.time, value, w)
	}
}

// The packs are the examples of RFC 8428, sections 5.1.1 to 5.1.6, and what they
// resolve to as section 5.1.4 prints it or as the text beside them says.
func TestResolve_RFC8428Examples(t *testing.T) {
	const dev = "urn:dev:ow:10e2073a0108006:"
	const temp = "urn:dev:ow:10e2073a01080063"
	tests := []struct {
		name, pack string
		want       []wantRecord
	}{
		// 5.1.1: one measurement "now"
		{"single", `[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]`,
			[]wantRecord{{temp, "Cel", 0, 23.1}}},
		// 5.1.2: a base name carries on to the next record
		{"two", `[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]`,
			[]wantRecord{{temp + ":voltage", "V", 0, 120.1}, {temp + ":current", "A", 0, 1.2}}},
		// 5.1.2: base time, base unit and version; times relative to the base
		{"five seconds", `[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
			{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
			{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]`,
			[]wantRecord{{dev + "voltage", "V", 1276020076.001, 120.1},
				{dev + "current", "A", 1276020071.001, 1.2}, {dev + "current", "A", 1276020072.001, 1.3},
				{dev + "current", "A", 1276020073.001, 1.4}, {dev + "current", "A", 1276020074.001, 1.5},
				{dev + "current", "A", 1276020075.001, 1.6}, {dev + "current", "A", 1276020076.001, 1.7}}},
		// 5.1.3: several measurements at one base time, the last at its own; 5.1.4 prints the result
		{"humidity and position", `[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},
			{"u":"lon","v":24.30621},{"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},
			{"u":"lat","t":60,"v":60.07965},{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},
			{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]`,
			[]wantRecord{{temp, "%RH", 1320067464, 20.0}, {temp, "lon", 1320067464, 24.30621}, {temp, "lat", 1320067464, 60.07965},
				{temp, "%RH", 1320067524, 20.3}, {temp, "lon", 1320067524, 24.30622}, {temp, "lat", 1320067524, 60.07965},
				{temp, "%RH", 1320067584, 20.7}, {temp, "lon", 1320067584, 24.30623}, {temp, "lat", 1320067584, 60.07966},
				{temp, "%EL", 1320067614, 98.0}, {temp, "%RH", 1320067644, 21.2}, {temp, "lon", 1320067644, 24.30628}, {temp, "lat", 1320067644, 60.07967}}},
		// 5.1.5: every kind of value
		{"kinds", `[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},
			{"n":"open","vb":false},{"n":"nfc-reader","vd":"aGkgCg"}]`,
			[]wantRecord{{temp + ":temp", "Cel", 0, 23.1}, {temp + ":label", "", 0, "Machine Room"},
				{temp + ":open", "", 0, false}, {temp + ":nfc-reader", "", 0, "data:aGkgCg"}}},
		// 5.1.6: the base name changes half way, the base time does not
		{"collection", `[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},
			{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]`,
			[]wantRecord{{"2001:db8::2/temperature", "Cel", 1320078429, 25.2}, {"2001:db8::2/humidity", "%RH", 1320078429, 30.0},
				{"2001:db8::1/temperature", "Cel", 1320078429, 12.3}, {"2001:db8::1/humidity", "%RH", 1320078429, 67.0}}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := resolve(packOf(t, tt.pack))
			if err != nil || len(got) != len(tt.want) {
				t.Fatalf("%d records, %v; want %d", len(got), err, len(tt.want))
			}
			for i, w := range tt.want {
				w.check(t, got[i])
			}
		})
	}
}

// The bytes are the CBOR example of RFC 8428, section 6: the same pack as the JSON
// of section 5.1.2.
func TestResolve_RFC8428CBORExample(t *testing.T) {
	const dump = `87 a7 21 78 1b 75 72 6e 3a 64 65 76 3a 6f 77 3a 31 30 65 32 30 37 33 61 30 31 30 38 30 30 36 3a
		22 fb 41 d3 03 a1 5b 00 10 62 23 61 41 20 05 00 67 76 6f 6c 74 61 67 65 01 61 56 02 fb 40 5e 06 66 66 66 66 66
		a3 00 67 63 75 72 72 65 6e 74 06 24 02 fb 3f f3 33 33 33 33 33 33
		a3 00 67 63 75 72 72 65 6e 74 06 23 02 fb 3f f4 cc cc cc cc cc cd
		a3 00 67 63 75 72 72 65 6e 74 06 22 02 fb 3f f6 66 66 66 66 66 66
		a3 00 67 63 75 72 72 65 6e 74 06 21 02 f9 3e 00
		a3 00 67 63 75 72 72 65 6e 74 06 20 02 fb 3f f9 99 99 99 99 99 9a
		a3 00 67 63 75 72 72 65 6e 74 06 00 02 fb 3f fb 33 33 33 33 33 33`
	b, err := hex.DecodeString(strings.Join(strings.Fields(dump), ""))
	if err != nil {
		t.Fatal(err)
	}
	pack, err := cborPack(b)
	if err != nil {
		t.Fatal(err)
	}
	got, err := resolve(pack)
	if err != nil || len(got) != 7 {
		t.Fatalf("%d records, %v", len(got), err)
	}
	wantRecord{"urn:dev:ow:10e2073a0108006:voltage", "V", 1276020076.001, 120.1}.check(t, got[0])
	wantRecord{"urn:dev:ow:10e2073a0108006:current", "A", 1276020074.001, 1.5}.check(t, got[4])
	wantRecord{"urn:dev:ow:10e2073a0108006:current", "A", 1276020076.001, 1.7}.check(t, got[6])
}

func TestResolve_Refuses(t *testing.T) {
	tests := []struct{ name, pack, why string }{
		// nothing to read
		{"empty pack", `[]`, "empty"},
		// two values in one record: which is meant is a guess (4.2)
		{"two values", `[{"n":"a","v":1,"vb":true}]`, "more than one"},
		// a name and no value, and no sum either (4.2)
		{"no value", `[{"n":"a","u":"kg"}]`, "no value"},
		// a later data model may mean something else (4.4)
		{"newer version", `[{"bver":11,"n":"a","v":1}]`, "version 11"},
		// one pack, one version (4.4)
		{"version changes", `[{"bver":5,"n":"a","v":1},{"bver":6,"n":"a","v":1}]`, "changes"},
		// a label ending in '_' must be understood (4.4)
		{"must understand", `[{"n":"a","v":1,"x_":1}]`, "understood"},
		// characters outside the set (4.5.1)
		{"bad name", `[{"n":"box 1","v":1}]`, "cannot stand"},
		// a name must not begin with a mark (4.5.1)
		{"bad start", `[{"n":":load","v":1}]`, "cannot stand"},
		// a value of the wrong type
		{"text as value", `[{"n":"a","v":"4.5"}]`, "no number"},
		{"number as name", `[{"n":4,"v":1}]`, "no text"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := resolve(packOf(t, tt.pack))
			if err == nil || !strings.Contains(err.Error(), tt.why) {
				t.Errorf("error %v, want one with %q", err, tt.why)
			}
		})
	}
}

func TestResolve_Accepts(t *testing.T) {
	// a label that is not known and needs not be is passed over (4.4)
	got, err := resolve(packOf(t, `[{"n":"a","v":1,"x":{"y":1}}]`))
	if err != nil || len(got) != 1 {
		t.Fatalf("%v, %v", got, err)
	}
	// a base value adds to the value, a base sum to the sum (4.1)
	got, err = resolve(packOf(t, `[{"bv":100,"bs":10,"n":"a","v":-1,"s":2}]`))
	if err != nil || *got[0].value != 99 || *got[0].sum != 12 {
		t.Fatalf("%v, %v", got, err)
	}
	// a record of base fields alone only sets them
	got, err = resolve(packOf(t, `[{"bn":"box-1:","bu":"kg"},{"n":"load","v":1}]`))
	if err != nil || len(got) != 1 || got[0].name != "box-1:load" || got[0].unit != "kg" {
		t.Fatalf("%v, %v", got, err)
	}
}

func TestRecord_At(t *testing.T) {
	arrived := time.Date(2025, 3, 3, 4, 5, 6, 0, time.UTC)
	tests := []struct {
		name string
		sec  float64
		want time.Time
	}{
		// no time: the device said nothing
		{"none", 0, time.Time{}},
		// below 2^28 is relative to now, before or after (4.5.3)
		{"ago", -90, arrived.Add(-90 * time.Second)},
		{"ahead", 60, arrived.Add(time.Minute)},
		{"last relative", 1<<28 - 1, arrived.Add((1<<28 - 1) * time.Second)},
		// from 2^28 on it counts from 1970
		{"first absolute", 1 << 28, time.Unix(1<<28, 0).UTC()},
		{"absolute", 1276020076.5, time.Date(2010, 6, 8, 18, 1, 16, 5e8, time.UTC)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := (record{time: tt.sec}).at(arrived); !got.Equal(tt.want) {
				t.Errorf("got %s, want %s", got, tt.want)
			}
		})
	}
}

// A pack with times relative to now that comes once more is known by its number: all
// but the arrival is as it was, to the step. A copy that a broker kept says nothing.
func TestSenMLJSON_RelativeTimes(t *testing.T) {
	pack := []byte(`[{"bn":"box-1:","n":"seq","v":7},{"n":"load","u":"kg","v":4.5,"t":-2.3},{"n":"load","u":"kg","v":4.5,"t":-0.0000015},` +
		`{"n":"load","u":"kg","v":4.6},{"n":"load","u":"kg","v":4.7,"t":0.3}]`)
	first := Arrival{Time: time.Date(2025, 3, 3, 4, 5, 6, 123457000, time.UTC)}
	then := Arrival{Time: first.Time.Add(30*time.Second + 13*time.Microsecond)}
	got, err := SenMLJSON(pack, first, home.Scale{})
	if err != nil || len(got) != 4 {
		t.Fatalf("%+v, %v", got, err)
	}
	again, err := SenMLJSON(pack, then, home.Scale{})
	if err != nil || len(again) != 4 {
		t.Fatalf("%+v, %v", again, err)
	}
	for i, r := range got {
		if r.Clock != home.ByArrival || r.Seq != 7 {
			t.Errorf("%+v", r)
		}
		if was, is := r.Arrived.Sub(r.Time), again[i].Arrived.Sub(again[i].Time); was != is {
			t.Errorf("%s before its arrival, then %s", was, is)
		}
	}
	if lag := got[0].Arrived.Sub(got[0].Time); lag != 2300*time.Millisecond {
		t.Errorf("%s before its arrival", lag)
	}
	first.Retained = true
	if kept, err := SenMLJSON(pack, first, home.Scale{}); len(kept) != 0 || !errors.Is(err, ErrUndated) {
		t.Errorf("of a kept copy: %+v, %v", kept, err)
	}
}

// A long pack of which little is a reading takes the room of that little.
func TestSenMLJSON_LittleUnderstood_TakesLittle(t *testing.T) {
	pack := "[" + strings.Repeat(`{"n":"hum","v":1},`, 20_000) + `{"n":"load","u":"kg","v":4.5}]`
	got, err := SenMLJSON([]byte(pack), arrival, box)
	if len(got) != 1 || cap(got) > 8 || err == nil {
		t.Errorf("%d readings in room for %d, %v", len(got), cap(got), err)
	}
}
