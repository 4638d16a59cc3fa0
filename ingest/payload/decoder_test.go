package payload

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/fxamacker/cbor/v2"

	"weighbeam/home"
)

var (
	noon    = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	arrival = Arrival{Time: noon}
	box     = home.Scale{ID: "box-1", Kind: home.LitterBox, Topic: "home/litter/1"}
)

// show writes a reading as one line, leaving out what is as usual.
func show(r home.Reading) string {
	s := fmt.Sprintf("%s:%s=%.6g", r.Source, r.Quantity, r.Value)
	switch {
	case r.Time.YearDay() != noon.YearDay():
		s += "@" + r.Time.Format("2006-01-02T15:04:05.999999")
	case !r.Time.Equal(noon):
		s += "@" + r.Time.Format("15:04:05.999999")
	}
	s += " " + string(r.Clock)
	for _, part := range []struct {
		has  bool
		text string
	}{
		{r.Seq != 0, fmt.Sprintf("seq=%d", r.Seq)}, {r.Cat != "", "cat=" + r.Cat}, {r.Window != 0, "window=" + r.Window.String()},
		{r.State != "", "state=" + string(r.State)}, {r.Note != "", "note=" + r.Note}, {r.Retained, "retained"},
		{r.SD != 0, fmt.Sprintf("sd=%g", r.SD)},
	} {
		if part.has {
			s += " " + part.text
		}
	}
	return s
}

func showAll(rs []home.Reading) string {
	lines := make([]string, len(rs))
	for i, r := range rs {
		lines[i] = show(r)
	}
	return strings.Join(lines, "\n")
}

type decoded struct {
	name    string
	payload string // of the scale
	body    string
	want    string // readings, one a line
	why     string // part of the error, "" for none
}

func (tt decoded) run(t *testing.T, s home.Scale, a Arrival) {
	t.Helper()
	s.Payload = tt.payload
	d, err := ForScale(s)
	if err != nil {
		t.Fatal(err)
	}
	got, err := d([]byte(tt.body), a)
	if showAll(got) != tt.want {
		t.Errorf("got\n%s\nwant\n%s", showAll(got), tt.want)
	}
	if (err == nil) != (tt.why == "") || err != nil && !strings.Contains(err.Error(), tt.why) {
		t.Errorf("error %v, want one with %q", err, tt.why)
	}
	for _, r := range got {
		if err := r.Valid(); err != nil {
			t.Errorf("%s: %v", show(r), err)
		}
	}
}

func TestForScale_Reads(t *testing.T) {
	tests := []decoded{
		// a bare number is in the scale's unit and dated by its arrival
		{"number", "number", " 4.512\n", "box-1:load=4.512 arrival", ""},
		// a unit in the payload wins over the scale's
		{"number with unit", "number", "4512 g", "box-1:load=4.512 arrival", ""},
		// the range gate stops a wrong unit
		{"number out of range", "number", "4512", "", "outside"},
		// SenML with the full name
		{"senml full name", "", `[{"n":"box-1:load","u":"kg","v":4.5}]`, "box-1:load=4.5 arrival", ""},
		// the topic names the source, the name the quantity
		{"senml quantity only", "senml", `[{"n":"weight","u":"g","v":4500}]`, "box-1:weight=4.5 arrival", ""},
		// an empty name: what the scale measures, in its unit
		{"senml no name", "senml", `[{"v":4.5}]`, "box-1:load=4.5 arrival", ""},
		// a device name that is no source stands for the scale
		{"senml urn", "senml", `[{"bn":"urn:dev:mac:0024befffe804ff1:","n":"load","u":"kg","v":4.5}]`, "box-1:load=4.5 arrival", ""},
		// a topic belongs to one scale: another's name there is refused
		{"senml of another", "senml", `[{"n":"box-2:load","u":"kg","v":4.5}]`, "", `belongs to "box-1"`},
		// the device's time, and a sequence number for the pack
		{"senml time and seq", "senml", `[{"bn":"box-1:","bt":1741003199.25,"n":"seq","v":77},{"n":"load","u":"kg","v":1},{"n":"load","u":"kg","v":2,"t":0.5}]`,
			"box-1:load=1@11:59:59.25 device seq=77\nbox-1:load=2@11:59:59.75 device seq=77", ""},
		// a relative time counts from the arrival
		{"senml relative", "senml", `[{"n":"load","u":"kg","v":1,"t":-5}]`, "box-1:load=1@11:59:55 arrival", ""},
		// a reader tag says whose weight it is
		{"senml cat", "senml", `[{"bn":"box-1:","n":"cat","vs":"juniper"},{"n":"weight","u":"kg","v":4}]`, "box-1:weight=4 arrival cat=juniper", ""},
		// counts need a window and a state, which ride in the pack
		{"senml count", "senml", `[{"bn":"box-1:","n":"window_s","v":30},{"n":"state","vs":"asleep"},{"n":"breaths","u":"count","v":11},{"n":"weight","u":"kg","v":4}]`,
			"box-1:breaths=11 arrival window=30s state=asleep\nbox-1:weight=4 arrival", ""},
		// a bad record costs itself
		{"senml one bad", "senml", `[{"bn":"box-1:","n":"load","u":"kg","v":4},{"n":"temperature","u":"Cel","v":400}]`, "box-1:load=4 arrival", "record 2"},
		// what is not watched is named, and marked as that
		{"senml foreign", "senml", `[{"bn":"box-1:","n":"load","u":"kg","v":4},{"n":"battery","u":"V","v":3.1}]`, "box-1:load=4 arrival", "not watched"},
		// two readings with one identity would silently be one
		{"senml twice", "senml", `[{"n":"load","u":"kg","v":4},{"n":"load","u":"kg","v":5}]`, "box-1:load=4 arrival", "same time"},
		// cubic metres, as the registry has them
		{"senml m3", "senml", `[{"n":"drunk","u":"m3","v":0.00005}]`, "box-1:drunk=50 arrival", ""},
		// a unit of another dimension
		{"senml wrong unit", "senml", `[{"n":"load","u":"Cel","v":4}]`, "", "cannot be in"},
		// which of two values is meant is a guess
		{"senml repeated key", "senml", `[{"n":"load","u":"kg","v":4,"v":5}]`, "", "duplicate"},
		// keys are case-sensitive
		{"senml upper case", "senml", `[{"n":"load","u":"kg","V":4}]`, "", "no value"},
		// not JSON numbers
		{"senml NaN", "senml", `[{"n":"load","u":"kg","v":NaN}]`, "", "SenML JSON"},
		{"senml huge", "senml", `[{"n":"load","u":"kg","v":1e999}]`, "", "finite"},
		// line protocol with a named field
		{"line", "line:grams", "cell,room=hall grams=4512.5,volts=3.1 1741003199250000000", "", "outside"},
		{"line in own form", "line", "reading,source=box-1,quantity=weight,cat=juniper value=4.5,sd=0.02 1741003199250000000\n" +
			"reading,source=box-1,quantity=weight value=4.6 1741003199350000000",
			"box-1:weight=4.5@11:59:59.25 device cat=juniper sd=0.02\nbox-1:weight=4.6@11:59:59.35 device", ""},
		{"line bad row", "line", "reading,source=box-1,quantity=weight value=4.5\nreading,source=box-1,quantity=tail value=1", "box-1:weight=4.5 arrival", "line 2"},
		{"line of another", "line", "reading,source=box-2,quantity=weight value=4.5", "", "belongs"},
		// CSV as a payload
		{"csv", "csv", "time,source,quantity,value,unit\n2025-03-03T11:59:00Z,box-1,weight,4500,g\n2025-03-03T11:59:01Z,box-2,weight,4500,g\n",
			"box-1:weight=4.5@11:59:00 device", "line 3"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, box, arrival) })
	}
}

func TestForScale_JSON(t *testing.T) {
	grams := box
	grams.Unit, grams.Sends = "g", home.Weight
	tests := []decoded{
		// a JSON Pointer
		{"pointer", "json:/data/0/grams", `{"data":[{"grams":4512}]}`, "box-1:weight=4.512 arrival", ""},
		// a JSONPath
		{"jsonpath", "json:$.data[0].grams", `{"data":[{"grams":4512}]}`, "box-1:weight=4.512 arrival", ""},
		// a filter that selects by another member
		{"jsonpath filter", "json:$.data[?@.id=='w'].v", `{"data":[{"id":"x","v":1},{"id":"w","v":4512}]}`, "box-1:weight=4.512 arrival", ""},
		// text with a unit
		{"text", "json:/w", `{"w":"4,512 kg"}`, "box-1:weight=4.512 arrival", ""},
		// the other parts: RFC 3339 time, sequence number, unit and cat
		{"parts", "json:/w;time=/at;seq=/n;unit=/u;cat=/who", `{"w":9.9,"at":"2025-03-03T12:59:00+01:00","n":3,"u":"lb","who":"moss"}`,
			"box-1:weight=4.49056@11:59:00 device seq=3 cat=moss", ""},
		// a time in seconds, milliseconds, microseconds and nanoseconds
		{"seconds", "json:/w;time=/t", `{"w":4000,"t":1741003140}`, "box-1:weight=4@11:59:00 device", ""},
		{"milliseconds", "json:/w;time=/t", `{"w":4000,"t":1741003140500}`, "box-1:weight=4@11:59:00.5 device", ""},
		{"microseconds", "json:/w;time=/t", `{"w":4000,"t":1741003140500000}`, "box-1:weight=4@11:59:00.5 device", ""},
		{"nanoseconds", "json:/w;time=/t", `{"w":4000,"t":1741003140500000000}`, "box-1:weight=4@11:59:00.5 device", ""},
		// nothing there, several there, not a number there
		{"missing", "json:/w", `{"x":1}`, "", "nothing at /w"},
		{"several", "json:$..w", `{"w":1,"x":{"w":2}}`, "", "selects 2"},
		{"object", "json:/w", `{"w":{}}`, "", "an object"},
		{"null", "json:/w", `{"w":null}`, "", "null"},
		// a time that is none must not be dated by arrival in silence
		{"bad time", "json:/w;time=/t", `{"w":4000,"t":"yesterday"}`, "", "RFC 3339"},
		{"bad seq", "json:/w;seq=/n", `{"w":4000,"n":1.5}`, "", "whole number"},
		{"not JSON", "json:/w", `{"w":`, "", "no JSON"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, grams, arrival) })
	}
}

func TestForScale_RefusesShape(t *testing.T) {
	for _, shape := range []string{"xml", "json:", "json:weight", "json:$[", "json:/a~2", "json:/a;when=/t", "json:/a;time=t"} {
		s := box
		s.Payload = shape
		if d, err := ForScale(s); err == nil || d != nil {
			t.Errorf("%q is accepted", shape)
		}
	}
}

// RFC 6901, section 5: the example document and what each pointer finds in it.
func TestPointer_RFC6901Examples(t *testing.T) {
	doc := map[string]any{"foo": []any{"bar", "baz"}, "": 0.0, "a/b": 1.0, "c%d": 2.0, "e^f": 3.0, "g|h": 4.0, `i\j`: 5.0, `k"l`: 6.0, " ": 7.0, "m~n": 8.0}
	for path, want := range map[string]any{
		"/foo/0": "bar", "/": 0.0, "/a~1b": 1.0, "/c%d": 2.0, "/e^f": 3.0, "/g|h": 4.0, `/i\j`: 5.0, `/k"l`: 6.0, "/ ": 7.0, "/m~0n": 8.0,
	} {
		find, err := pointer(path)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := find(doc); err != nil || got != want {
			t.Errorf("%q: %v, %v; want %v", path, got, err, want)
		}
	}
	// an index has no sign, no leading zero and stays inside (section 4)
	for _, path := range []string{"/foo/00", "/foo/-", "/foo/+1", "/foo/2", "/foo/0/x"} {
		find, err := pointer(path)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := find(doc); err == nil {
			t.Errorf("%q finds %v", path, got)
		}
	}
}

func TestForScale_CBOR(t *testing.T) {
	encode := func(v any) string {
		b, err := cbor.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	rec := func(v any) []map[any]any { return []map[any]any{{0: "load", 1: "kg", 2: v}} }
	tests := []decoded{
		{"float", "senml-cbor", encode(rec(4.5)), "box-1:load=4.5 arrival", ""},
		{"half float", "senml-cbor", "\x81\xa3\x00\x64load\x01\x62kg\x02\xf9\x44\x80", "box-1:load=4.5 arrival", ""},
		{"integer", "senml-cbor", encode(rec(4)), "box-1:load=4 arrival", ""},
		{"negative integer", "senml-cbor", encode(rec(-4)), "box-1:load=-4 arrival", ""},
		// 4.5 as a decimal fraction, CBOR tag 4 (RFC 8428, section 6)
		{"decimal fraction", "senml-cbor", encode(rec(cbor.Tag{Number: 4, Content: []any{-1, 45}})), "box-1:load=4.5 arrival", ""},
		{"other tag", "senml-cbor", encode(rec(cbor.Tag{Number: 5, Content: []any{-1, 45}})), "", "no number"},
		{"not a number", "senml-cbor", encode(rec("4.5")), "", "no number"},
		{"NaN", "senml-cbor", "\x81\xa3\x00\x64load\x01\x62kg\x02\xf9\x7e\x00", "", "finite"},
		{"repeated key", "senml-cbor", "\x81\xa3\x00\x64load\x02\x01\x02\x02", "", "CBOR"},
		// the same label once as a number and once as text
		{"repeated label", "senml-cbor", "\x81\xa3\x00\x64load\x02\x01\x61v\x02", "", "twice"},
		{"not CBOR", "senml-cbor", "4.5", "", "CBOR"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, box, arrival) })
	}
}

func TestDecoder_DeviceClock(t *testing.T) {
	kept := Arrival{Time: noon, Retained: true}
	pack := func(sec int64) string { return fmt.Sprintf(`[{"n":"load","u":"kg","v":4,"t":%d}]`, sec) }
	tests := []struct {
		name string
		a    Arrival
		body string
		want string
		why  error
	}{
		// a little ahead is a clock like any other
		{"ahead a little", arrival, pack(noon.Add(4 * time.Minute).Unix()), "box-1:load=4@12:04:00 device", nil},
		// an hour ahead is local time or worse: kept, dated by arrival, told
		{"ahead an hour", arrival, pack(noon.Add(time.Hour).Unix()), "box-1:load=4 arrival note=device clock runs ahead: it said 2025-03-03T13:00:00Z", nil},
		// a clock that woke up at the turn of the century
		{"never set", arrival, pack(time.Date(2000, 1, 1, 0, 0, 9, 0, time.UTC).Unix()), "box-1:load=4 arrival note=device clock was never set: it said 2000-01-01T00:00:09Z", nil},
		// 1970 is, by the SenML rule, "so many seconds from now", and nothing is weighed hours from now
		{"1970", arrival, pack(12345), "box-1:load=4 arrival note=device clock was never set: it said 1970-01-01T03:25:45Z", nil},
		// buffered for a month, told late: true all the same
		{"late", arrival, pack(noon.AddDate(0, -1, 0).Unix()), "box-1:load=4@2025-02-03T12:00:00 device", nil},
		// a kept copy with a time is a reading, marked
		{"retained", kept, pack(noon.Add(-time.Minute).Unix()), "box-1:load=4@11:59:00 device retained", nil},
		// a kept copy with none, or with a wrong one: nobody knows when it was true
		{"retained undated", kept, `[{"n":"load","u":"kg","v":4}]`, "", ErrUndated},
		{"retained wrong", kept, pack(noon.Add(time.Hour).Unix()), "", ErrUndated},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, err := SenMLJSON([]byte(tt.body), tt.a, box)
			if showAll(got) != tt.want || !errors.Is(err, tt.why) {
				t.Errorf("got %q, %v; want %q, %v", showAll(got), err, tt.want, tt.why)
			}
		})
	}
}

// The readings of one payload whose clock is wrong keep their distances: the newest is
// taken for the arrival. Dated alike they would be one reading with several values.
func TestDecoder_WrongClock_KeepsDistances(t *testing.T) {
	const unset, told = "device clock was never set: it said ", "device clock runs ahead: it said "
	tests := []decoded{
		{"never set", "senml", `[{"bt":946684800,"bu":"kg","n":"load","v":4},{"n":"load","t":30,"v":5},{"n":"load","t":60,"v":6}]`,
			"box-1:load=4@11:59:00 arrival note=" + unset + "2000-01-01T00:00:00Z\nbox-1:load=5@11:59:30 arrival note=" + unset +
				"2000-01-01T00:00:30Z\nbox-1:load=6 arrival note=" + unset + "2000-01-01T00:01:00Z", ""},
		// counted from the start of the device, newest first
		{"counts", "senml", `[{"bt":7200,"bu":"kg","n":"load","v":4},{"n":"load","t":-2,"v":5}]`,
			"box-1:load=4 arrival note=" + unset + "1970-01-01T02:00:00Z\nbox-1:load=5@11:59:58 arrival note=" + unset + "1970-01-01T01:59:58Z", ""},
		// what was dated before the clock was set, and what after
		{"set meanwhile", "senml", `[{"bu":"kg","n":"load","t":946684800,"v":4},{"n":"load","t":946684810,"v":5},{"n":"load","t":1741003195,"v":6}]`,
			"box-1:load=4@11:59:50 arrival note=" + unset + "2000-01-01T00:00:00Z\nbox-1:load=5 arrival note=" + unset +
				"2000-01-01T00:00:10Z\nbox-1:load=6@11:59:55 device", ""},
		// a clock that was moved by years between two of them says nothing about their distance
		{"moved", "senml", `[{"bu":"kg","n":"load","t":946684800,"v":4},{"n":"load","t":1262304000,"v":5}]`,
			"box-1:load=4 arrival note=" + unset + "2000-01-01T00:00:00Z", "a second load"},
		{"line protocol", "line:w", "m w=4 4070908800000000000\nm w=5 4070908801500000000",
			"box-1:load=4@11:59:58.5 arrival note=" + told + "2099-01-01T00:00:00Z\nbox-1:load=5 arrival note=" + told + "2099-01-01T00:00:01Z", ""},
		// a history is believed however old it is; before any cat of now was alive it is a clock
		{"CSV", "csv", "time,source,quantity,value\n1970-01-01T00:00:10Z,box-1,load,4\n1970-01-01T00:00:12Z,box-1,load,5\n1999-01-01T00:00:00Z,box-1,weight,4",
			"box-1:load=4@11:59:58 arrival note=" + unset + "1970-01-01T00:00:10Z\nbox-1:load=5 arrival note=" + unset +
				"1970-01-01T00:00:12Z\nbox-1:weight=4@1999-01-01T00:00:00 device", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, box, arrival) })
	}
}

func TestDecoder_ForeignOnly(t *testing.T) {
	tests := []struct {
		name, body string
		want       bool
	}{
		// nothing worse than a thing that is not watched
		{"foreign", `[{"bn":"box-1:","n":"load","u":"kg","v":4},{"n":"battery","u":"V","v":3.1}]`, true},
		// the charge of it is watched, by the unit that RFC 8428 has for it
		{"charge", `[{"bn":"box-1:","n":"load","u":"kg","v":4},{"n":"battery","u":"%EL","v":34}]`, false},
		// something worse beside it
		{"and worse", `[{"bn":"box-1:","n":"load","u":"kg","v":4000},{"n":"battery","u":"V","v":3.1}]`, false},
	}
	for _, tt := range tests {
		_, err := SenMLJSON([]byte(tt.body), arrival, box)
		if errors.Is(err, ErrForeign) != tt.want {
			t.Errorf("%s: %v is foreign: %v, want %v", tt.name, err, !tt.want, tt.want)
		}
	}
}

func TestSenMLJSON_WithoutScale(t *testing.T) {
	tests := []decoded{
		{"full name", "", `[{"n":"box-9:load","u":"kg","v":4}]`, "box-9:load=4 arrival", ""},
		{"slash", "", `[{"n":"box-9/load","u":"kg","v":4}]`, "box-9:load=4 arrival", ""},
		// between kg and g lies a factor of a thousand: no guess
		{"no unit", "", `[{"n":"box-9:load","v":4}]`, "", "no unit"},
		{"no source", "", `[{"n":"load","u":"kg","v":4}]`, "", "no source"},
		{"no slug", "", `[{"n":"Box:load","u":"kg","v":4}]`, "", "slug"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) { tt.run(t, home.Scale{}, arrival) })
	}
}

func TestForScale_Size(t *testing.T) {
	d, err := ForScale(box)
	if err != nil {
		t.Fatal(err)
	}
	one := `[{"n":"load","u":"kg","v":4}]`
	// exactly as long as may be: read
	if got, err := d([]byte(one+strings.Repeat(" ", MaxBytes-len(one))), arrival); err != nil || len(got) != 1 {
		t.Errorf("%d readings, %v", len(got), err)
	}
	// one byte more: refused, unread
	if _, err := d([]byte(one+strings.Repeat(" ", MaxBytes-len(one)+1)), arrival); err == nil {
		t.Error("read")
	}
	// a mebibyte of opening brackets must cost neither a stack nor a second
	if _, err := d([]byte(strings.Repeat("[", MaxBytes)), arrival); err == nil || !strings.Contains(err.Error(), "deeper") {
		t.Errorf("error %v", err)
	}
}

// The same reading by two ways is the same to the last bit.
func TestDecoder_SameByEveryWay(t *testing.T) {
	bowl := home.Scale{ID: "bowl", Kind: home.Feeder}
	for _, grams := range []string{"4.35", "0.07", "1.1", "123.456"} {
		senml, err := SenMLJSON([]byte(`[{"n":"intake","u":"g","v":`+grams+`,"t":1741003199}]`), arrival, bowl)
		if err != nil {
			t.Fatal(err)
		}
		csv, err := CSV([]byte("time,source,quantity,value,unit\n2025-03-03T11:59:59Z,bowl,intake,"+grams+",g\n"), arrival, "")
		if err != nil {
			t.Fatal(err)
		}
		if senml[0] != csv[0] {
			t.Errorf("%+v\n%+v", senml[0], csv[0])
		}
	}
}
