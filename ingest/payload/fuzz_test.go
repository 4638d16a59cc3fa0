package payload

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"weighbeam/home"
)

// fuzzDecoder feeds a decoder anything and holds it to what the package promises:
// no panic, an answer for everything, only valid readings, no identity twice.
func fuzzDecoder(f *testing.F, shape string, seeds ...string) {
	s := box
	s.Payload = shape
	d, err := ForScale(s)
	if err != nil {
		f.Fatal(err)
	}
	for _, seed := range seeds {
		f.Add([]byte(seed), false)
		f.Add([]byte(seed), true)
	}
	f.Fuzz(func(t *testing.T, b []byte, retained bool) {
		before := bytes.Clone(b)
		got, err := d(b, Arrival{Time: noon, Retained: retained})
		if len(got) == 0 && err == nil {
			t.Fatal("nothing read and nothing said")
		}
		if !bytes.Equal(b, before) {
			t.Fatal("the payload was changed")
		}
		seen := map[key]bool{}
		for _, r := range got {
			if err := r.Valid(); err != nil {
				t.Fatalf("%+v: %v", r, err)
			}
			if r != r.Normal() {
				t.Fatalf("%+v is not normal", r)
			}
			k := key{r.Source, r.Quantity, r.Time, r.Seq}
			if seen[k] {
				t.Fatalf("twice: %+v", r)
			}
			seen[k] = true
			// only a CSV says by which clock a reading was dated when it was new
			if retained && (!r.Retained || r.Clock == home.ByArrival && shape != "csv") {
				t.Fatalf("a kept copy became a reading: %+v", r)
			}
		}
		if err != nil && err.Error() == "" {
			t.Fatal("an error without a word")
		}
	})
}

func FuzzSenMLJSON(f *testing.F) {
	fuzzDecoder(f, "senml",
		`[{"n":"box-1:load","u":"kg","v":4.5}]`,
		`[{"bn":"box-1:","bt":1741003199.25,"n":"seq","v":77},{"n":"load","u":"kg","v":1},{"n":"load","u":"kg","v":2,"t":0.5}]`,
		`[{"bv":1e308,"n":"load","u":"kg","v":1e308}]`,
		`[{"n":"load","u":"kg","v":4,"t":-1e300}]`,
		`[{"n":"load","u":"kg","v":4,"t":1e300}]`,
		`[{"bn":"box-1:","n":"window_s","v":30},{"n":"state","vs":"asleep"},{"n":"breaths","v":11}]`,
		`[{"n":"load","v":4,"v":5}]`, `[[[[[[`, `{}`, `[null]`, `[{}]`, "[{\"n\":\"\xff\"}]",
	)
}

func FuzzSenMLCBOR(f *testing.F) {
	fuzzDecoder(f, "senml-cbor",
		"\x81\xa3\x00\x64load\x01\x62kg\x02\xf9\x44\x80",
		"\x81\xa3\x00\x64load\x01\x62kg\x02\xc4\x82\x20\x18\x2d",
		"\x81\xa3\x00\x64load\x01\x62kg\x02\xc4\x82\x3b\x7f\xff\xff\xff\xff\xff\xff\xff\x18\x2d",
		"\x81\xa2\x00\x64load\x02\xc2\x5f\xff", "\x9f\xff", "\xbf", "\x80", "\x81\xa0",
	)
}

func FuzzNumber(f *testing.F) {
	fuzzDecoder(f, "number", "4.512", "4,512 kg", "-1e-3lb", "1.2.3", "inf", "\xff", " ", strings.Repeat("9", 400))
}

func FuzzJSON(f *testing.F) {
	fuzzDecoder(f, "json:$..w;time=/t;seq=/n;unit=/u;cat=/c",
		`{"w":4,"t":1741003140,"n":1,"u":"kg","c":"juniper"}`,
		`{"w":"4,5 kg","t":"2025-03-03T12:00:00Z","n":1,"u":"kg","c":""}`,
		`{"w":1,"t":1e308}`, `{"w":{"w":1}}`, `{"":`, `[]`, strings.Repeat("[", 40),
	)
}

func FuzzLine(f *testing.F) {
	fuzzDecoder(f, "line", "reading,source=box-1,quantity=weight,cat=juniper value=4.5,sd=0.02 1741003199250000000",
		"reading value=1", "m,a=b c=1i", "# comment\n\n", "m c=\"x\\\"\" 1", "reading,source=box-1,quantity=stay value=1u -1")
}

func FuzzLineField(f *testing.F) {
	fuzzDecoder(f, "line:w", "cell,room=hall w=4.5,v=3.1 1741003199250000000", "cell w=true", "cell w=1e400", "cell\\ x w=1i")
}

func FuzzCSV(f *testing.F) {
	fuzzDecoder(f, "csv", header+"2025-03-03T12:00:00Z,box-1,load,4.5\n",
		"\xef\xbb\xbftime,source,quantity,value,note\r\n2025-03-03T12:00:00Z,box-1,load,4.5,\"a\n\"\"b\"\r\n",
		header+"\"", "a,a\n", header+",,,\n", header+"2025-03-03T12:00:00Z,box-1,weight,4.5\n2025-03-03T12:00:00Z,box-1,weight,4.5\n")
}

// FuzzCSVReader reads a file, writes what it read, and reads that: the same.
func FuzzCSVReader(f *testing.F) {
	f.Add(header + "2025-03-03T12:00:00Z,box-1,load,4.5\n")
	f.Add("time,source,quantity,value,unit,cat,window_s,state,note,x\n2025-03-03T12:00:00Z,hand,breaths,11,{count},a,30,asleep,\"n\n\",y\n")
	f.Add(header + "\"2025-03-03T12:00:00Z,box-1,load,4.5\n2025-03-03T12:00:00Z,box-1,load,4.5\n")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := NewCSVReader(strings.NewReader(text))
		if err != nil {
			return
		}
		var buf bytes.Buffer
		w := NewCSVWriter(&buf)
		var want []home.Reading
		last := 0
		for {
			r, err := c.Read()
			if errors.Is(err, io.EOF) {
				break
			}
			if c.Line() <= last {
				t.Fatalf("line %d after line %d", c.Line(), last)
			}
			last = c.Line()
			if err != nil {
				continue
			}
			want = append(want, r)
			if err := w.Write(r); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		got, bad := readAll(t, buf.String())
		if len(bad) > 0 || len(got) != len(want) {
			t.Fatalf("%d of %d came back; bad: %q", len(got), len(want), bad)
		}
		for i := range want {
			if got[i] != want[i] {
				t.Fatalf("got %+v\nwant %+v", got[i], want[i])
			}
		}
	})
}
