package payload

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// readAll reads a file as an import would: readings and bad rows in order.
func readAll(t testing.TB, text string) (got []home.Reading, bad []string) {
	t.Helper()
	c, err := NewCSVReader(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	for {
		r, err := c.Read()
		var row *RowError
		switch {
		case errors.Is(err, io.EOF):
			return got, bad
		case errors.As(err, &row):
			bad = append(bad, row.Error())
		case err != nil:
			t.Fatal(err)
		default:
			got = append(got, r)
		}
	}
}

const header = "time,source,quantity,value\n"

func TestCSVReader_Read(t *testing.T) {
	const head = "time,source,quantity,value,unit,cat,window_s,state,note\n"
	tests := []struct {
		name, text, want string
		bad              []string // part of each bad row's error, with its line
	}{
		// the four columns that are needed
		{"four columns", header + "2025-03-03T12:00:00Z,box-1,load,4.5\n", "box-1:load=4.5 device", nil},
		// another order, another zone, another unit
		{"order", "unit,value,quantity,source,time\n[lb_av],10,weight,clinic,2025-03-03T13:00:00+01:00\n", "clinic:weight=4.53592 hand", nil},
		// everything
		{"all", head + "2025-03-03T12:00:00Z,hand,breaths,11,{count},juniper,30,asleep,\"on the \"\"sofa\"\", late\"\n",
			`hand:breaths=11 hand cat=juniper window=30s state=asleep note=on the "sofa", late`, nil},
		// a note over two lines: the second bad row keeps its own number
		{"two lines", head + "2025-03-03T12:00:00Z,hand,weight,4,,,,,\"a\nb\"\nx,hand,weight,4,,,,,\n", "hand:weight=4 hand note=a\nb", []string{"line 4: time"}},
		// a column that is not known is kept in the note
		{"extra column", "time,source,quantity,value,room,note\n2025-03-03T12:00:00Z,box-1,load,4,hall,n\n", "box-1:load=4 device note=n; room=hall", nil},
		// byte order mark, CRLF, empty lines, no end of line at the end
		{"from a spreadsheet", "\xef\xbb\xbftime,source,quantity,value\r\n2025-03-03T12:00:00Z,box-1,load,4\r\n\r\n2025-03-03T12:00:00Z,box-2,load,5",
			"box-1:load=4 device\nbox-2:load=5 device", nil},
		// each bad row costs itself
		{"bad rows", header + "2025-03-03 12:00,box-1,load,4\n" + // no RFC 3339
			"2025-03-03T12:00:00Z,Box 1,load,4\n" + // no slug
			"2025-03-03T12:00:00Z,box-1,mass,4\n" + // no quantity
			"2025-03-03T12:00:00Z,box-1,load,\"4,5\"\n" + // decimal comma
			"2025-03-03T12:00:00Z,box-1,load,NaN\n" +
			"2025-03-03T12:00:00Z,box-1,load\n" + // a cell short
			"2025-03-03T12:00:00Z,box-1,weight,450\n" + // outside the gate
			"2025-03-03T12:00:00Z,box-1,breaths,11\n" + // a count with no window
			"2025-03-03T12:00:00Z,,load,4\n" +
			"2025-03-03T12:00:00Z,box-1,load,4\n",
			"box-1:load=4 device", []string{"line 2: time", "line 3", "line 4", "line 5: value: \"4,5\" is no number: write a decimal point",
				"line 6", "line 7: 3 cells", "line 8", "line 9", "line 10: source is empty"}},
		// a quote that is never closed must not swallow the rest of the file
		{"stray quote", header + "2025-03-03T12:00:00Z,\"box-1,load,4\n2025-03-03T12:00:00Z,box-2,load,4\n2025-03-03T12:00:00Z,box-3,load,4\n",
			"box-2:load=4 device\nbox-3:load=4 device", []string{"line 2: a quote"}},
		// nor one that a later quote closes
		{"two stray quotes", header + "2025-03-03T12:00:00Z,\"box-1,load,4\n2025-03-03T12:00:00Z,box-2,load,4\n2025-03-03T12:00:00Z,box-3\"x,load,4\n",
			"box-2:load=4 device", []string{"line 2", "line 4"}},
		// a line longer than a row may be
		{"long line", header + strings.Repeat("x", 3*maxRowBytes) + "\n2025-03-03T12:00:00Z,box-2,load,4\n", "box-2:load=4 device", []string{"line 2: the line is longer"}},
		// the leap day, and a time in the hour that a change of clocks repeats
		{"days", header + "2024-02-29T12:00:00Z,box-1,load,4\n2024-10-27T02:30:00+02:00,box-1,load,5\n2024-10-27T02:30:00+01:00,box-1,load,6\n",
			"box-1:load=4@2024-02-29T12:00:00 device\nbox-1:load=5@2024-10-27T00:30:00 device\nbox-1:load=6@2024-10-27T01:30:00 device", nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got, bad := readAll(t, tt.text)
			if showAll(got) != tt.want {
				t.Errorf("got\n%s\nwant\n%s", showAll(got), tt.want)
			}
			if len(bad) != len(tt.bad) {
				t.Fatalf("bad rows %q, want %q", bad, tt.bad)
			}
			for i, part := range tt.bad {
				if !strings.HasPrefix(bad[i], part) {
					t.Errorf("bad row %q, want %q", bad[i], part)
				}
			}
		})
	}
}

func TestNewCSVReader_Refuses(t *testing.T) {
	for _, tt := range []struct{ name, text, why string }{
		{"empty", "", "empty"},
		{"missing column", "time,source,value\n", `"quantity" is missing`},
		{"twice", "time,source,quantity,value,time\n", "twice"},
		{"open quote", "\"time\n", "quote"},
	} {
		if _, err := NewCSVReader(strings.NewReader(tt.text)); err == nil || !strings.Contains(err.Error(), tt.why) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.why)
		}
	}
}

// failing gives a line and then an error, as a disk that fails half way.
type failing struct{ text string }

func (f *failing) Read(p []byte) (int, error) {
	if f.text == "" {
		return 0, errBroken
	}
	n := copy(p, f.text)
	f.text = f.text[n:]
	return n, nil
}

var errBroken = errors.New("broken")

func TestCSVReader_Read_BrokenFile(t *testing.T) {
	c, err := NewCSVReader(&failing{header + "2025-03-03T12:00:00Z,box-1,load,4\n"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Read(); err != nil {
		t.Fatal(err)
	}
	// an error of the reader is neither the end nor a bad row
	if _, err := c.Read(); !errors.Is(err, errBroken) {
		t.Errorf("error %v", err)
	}
}

// anyReading draws a valid reading.
func anyReading(t *rapid.T) home.Reading {
	slug := rapid.StringMatching(`[a-z0-9][a-z0-9_.-]{0,10}`)
	q := rapid.SampledFrom(home.Quantities()).Draw(t, "quantity")
	from := time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC).UnixMicro()
	r := home.Reading{
		Source: slug.Draw(t, "source"), Quantity: q,
		Time:    time.UnixMicro(from + rapid.Int64Range(0, 4e15).Draw(t, "time")).UTC(),
		Arrived: time.UnixMicro(from + rapid.Int64Range(0, 4e15).Draw(t, "arrived")).UTC(),
		Seq:     rapid.Int64().Draw(t, "seq"), SD: rapid.Float64Range(0, 1e6).Draw(t, "sd"),
		Note:     rapid.OneOf(rapid.String(), rapid.StringMatching(`[\r\n",x]{0,8}`)).Draw(t, "note"),
		Clock:    rapid.SampledFrom([]home.Clock{home.ByDevice, home.ByArrival, home.ByHand}).Draw(t, "clock"),
		Retained: rapid.Bool().Draw(t, "retained"),
	}
	if rapid.Bool().Draw(t, "named") {
		r.Cat = slug.Draw(t, "cat")
	}
	r.Value = rapid.Float64Range(-500, 2000).Draw(t, "value")
	if q == home.Tag {
		r.Value = 985e12 + math.Trunc(math.Abs(r.Value))
	}
	if q.Counted() {
		r.Value = math.Trunc(math.Abs(r.Value) / 4)
		r.Window = time.Duration(rapid.Int64Range(5e6, 3600e6).Draw(t, "window")) * time.Microsecond
		r.State = rapid.SampledFrom([]home.State{home.Asleep, home.Resting, home.Active, home.AtClinic}).Draw(t, "state")
	}
	if r.Valid() != nil {
		t.Skip("outside the gate of its quantity")
	}
	return r
}

// What is written is read back as the same readings, to the byte of their notes.
func TestCSVWriter_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Custom(anyReading), 1, 8).Draw(t, "readings")
		var buf bytes.Buffer
		w := NewCSVWriter(&buf)
		for i := range want {
			if err := w.Write(want[i]); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Flush(); err != nil {
			t.Fatal(err)
		}
		c, err := NewCSVReader(&buf)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want {
			got, err := c.Read()
			if err != nil || got != want[i] {
				t.Fatalf("%d: got %+v, %v\nwant %+v", i, got, err, want[i])
			}
		}
		if _, err := c.Read(); !errors.Is(err, io.EOF) {
			t.Fatalf("after the last: %v", err)
		}
	})
}

func TestCSVWriter_Flush_NoReading(t *testing.T) {
	var buf bytes.Buffer
	if err := NewCSVWriter(&buf).Flush(); err != nil || buf.String() != strings.Join(Columns, ",")+"\n" {
		t.Errorf("%q, %v", buf.String(), err)
	}
}

func BenchmarkCSVReader_Read(b *testing.B) {
	var text strings.Builder
	text.WriteString("time,source,quantity,value,unit,cat,window_s,state,note\n")
	for i := range 10_000 {
		fmt.Fprintf(&text, "%s,box-1,load,%.3f,kg,,,,\n", noon.Add(time.Duration(i)*200*time.Millisecond).Format(time.RFC3339Nano), float64(i)/1000)
	}
	b.ReportAllocs()
	for b.Loop() {
		c, err := NewCSVReader(strings.NewReader(text.String()))
		if err != nil {
			b.Fatal(err)
		}
		for {
			if _, err := c.Read(); err != nil {
				break
			}
		}
	}
	b.ReportMetric(float64(b.N)*10_000/b.Elapsed().Seconds(), "rows/s")
}

// Whoever has to mend a file is told of each line, up to twenty.
func TestCSV_ManyBadLines_AreEachNamed(t *testing.T) {
	text := "time,source,quantity,value\n" + strings.Repeat("yesterday,box-1,weight,4\n", 22)
	_, err := CSV([]byte(text), Arrival{Time: time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)}, "")
	if err == nil || !strings.Contains(err.Error(), "line 21: ") || !strings.HasSuffix(err.Error(), "and 2 more") {
		t.Errorf("%v", err)
	}
}

// What a row said is known whatever is wrong with it.
func TestCSVReader_Text(t *testing.T) {
	file := "time,source,quantity,value,note\r\n" +
		"yesterday,box-1,weight,4.5,\r\n" +
		"yesterday,box-1,weight,4.5,\"two\nlines\"\n" +
		"2025-03-03T12:00:00Z,box-1,weight,4.5,a \"stray\" quote\n" +
		"2025-03-03T12:00:00Z,box-1,weight,4.5,\"open\n" +
		"tomorrow,box-1,weight,4.5,\n" + // read ahead for the end of the quote
		strings.Repeat("x", maxRowBytes+1) + "\n"
	c, err := NewCSVReader(strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		line int
		text string
	}{
		{2, "yesterday,box-1,weight,4.5,"},
		{3, "yesterday,box-1,weight,4.5,\"two\nlines\""},
		{5, "2025-03-03T12:00:00Z,box-1,weight,4.5,a \"stray\" quote"},
		{6, "2025-03-03T12:00:00Z,box-1,weight,4.5,\"open"},
		{7, "tomorrow,box-1,weight,4.5,"}, // a row of its own after all
		{8, ""},                           // too long
	} {
		var bad *RowError
		if _, err := c.Read(); !errors.As(err, &bad) || bad.Line != want.line || c.Text() != want.text {
			t.Errorf("%.60q, want %+v: %v", c.Text(), want, err)
		}
	}
}
