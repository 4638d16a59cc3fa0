package chart

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

var update = flag.Bool("update", false, "write the golden pictures anew")

var start = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

func at(day int) time.Time { return start.AddDate(0, 0, day) }

// pictures are the cases that are kept as golden files.
func pictures() map[string]Picture {
	full := Picture{
		Title: "Weight of <Pip>", Desc: "Falling & seen.", Unit: "kg", From: at(0), To: at(60),
		Usual: Range{4.3, 4.5}, UsualWords: "usual", Began: Span{at(30), at(25), at(40)}, BeganWords: "began 4 Feb",
		Levels: []Level{{4.0, "floor"}},
	}
	for i, s := range Shapes() {
		full.Series = append(full.Series, Series{Shape: s, Marks: []Mark{{at(5 + 9*i), 4.4}, {at(8 + 9*i), 4.3}}})
	}
	for d := range 60 {
		full.Line = append(full.Line, home.TrendPoint{Time: at(d), Value: 4.4, Lo: 4.35, Hi: 4.45})
	}
	one := Picture{Title: "One reading", Unit: "kg", From: at(0), To: at(42), Series: []Series{{Marks: []Mark{{at(20), 4.4}}}}, MinSpan: 0.2}
	return map[string]Picture{"full": full, "one": one, "none": {Title: "Nothing", From: at(0), To: at(42)}}
}

func TestPicture_SVG_AsKept(t *testing.T) {
	for name, p := range pictures() {
		for size, s := range map[string]Size{"wide": Wide, "spark": Spark} {
			var got bytes.Buffer
			if err := p.SVG(&got, s); err != nil {
				t.Fatal(err)
			}
			golden(t, name+"-"+size+".svg", got.Bytes())
		}
	}
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		if err := os.WriteFile(path+".got", got, 0o644); err != nil {
			t.Fatal(err)
		}
		t.Errorf("%s differs: compare with %s.got, and run with -update if it is right", path, path)
	}
}

// A gap of more than three weeks is a gap in the line and in the band.
func TestPicture_WithGap_BreaksTheLine(t *testing.T) {
	draw := func(days ...int) int {
		p := Picture{From: at(0), To: at(100)}
		for _, d := range days {
			p.Line = append(p.Line, home.TrendPoint{Time: at(d), Value: 4, Lo: 3.9, Hi: 4.1})
		}
		var b bytes.Buffer
		if err := p.SVG(&b, Wide); err != nil {
			t.Fatal(err)
		}
		return strings.Count(b.String(), `class="accent"`)
	}
	if n := draw(1, 10, 31, 50); n != 1 {
		t.Errorf("21 days are a gap: %d lines, want 1", n)
	}
	if n := draw(1, 10, 32, 50); n != 2 {
		t.Errorf("22 days are no gap: %d lines, want 2", n)
	}
}

// One stray reading does not flatten the others, and is still shown.
func TestPicture_StrayReading_IsPinnedToTheEdge(t *testing.T) {
	p := Picture{From: at(0), To: at(60), Series: []Series{{}}}
	for d := range 50 {
		p.Series[0].Marks = append(p.Series[0].Marks, Mark{at(d), 4.3 + 0.01*float64(d%10)})
	}
	before := p.frame()
	p.Series[0].Marks = append(p.Series[0].Marks, Mark{at(55), 11})
	if after := p.frame(); after != before {
		t.Errorf("the frame moved from %v to %v", before, after)
	}
	var without, with bytes.Buffer
	if err := p.SVG(&with, Wide); err != nil {
		t.Fatal(err)
	}
	p.Series[0].Marks = p.Series[0].Marks[:50]
	if err := p.SVG(&without, Wide); err != nil {
		t.Fatal(err)
	}
	if with.Len() <= without.Len() {
		t.Error("the stray reading is not drawn at all")
	}
}

// What is common to all readings never counts as stray.
func TestNear_MostlyEqual_KeepsAll(t *testing.T) {
	if got := near([]float64{20, 20, 20, 20, 20, 22}); len(got) != 6 {
		t.Errorf("kept %v", got)
	}
}

func TestTimeTicks_RoundDates(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		from, to time.Time
		most     int
		want     string
	}{
		// Weeks begin on Monday, also across the night the clocks change.
		{time.Date(2026, 3, 20, 0, 0, 0, 0, berlin), time.Date(2026, 4, 10, 0, 0, 0, 0, berlin), 5, "23 Mar|30 Mar|6 Apr"},
		// Months, the first of a year with its year.
		{time.Date(2025, 10, 15, 0, 0, 0, 0, berlin), time.Date(2026, 3, 15, 0, 0, 0, 0, berlin), 6, "Nov|Dec|Jan 2026|Feb|Mar"},
		// Quarters, from January.
		{time.Date(2025, 2, 1, 0, 0, 0, 0, berlin), time.Date(2026, 2, 1, 0, 0, 0, 0, berlin), 5, "Apr|Jul|Oct|Jan 2026"},
		// Years.
		{time.Date(2019, 6, 1, 0, 0, 0, 0, berlin), time.Date(2026, 6, 1, 0, 0, 0, 0, berlin), 8, "2020|2021|2022|2023|2024|2025|2026"},
	} {
		var got []string
		for _, tick := range timeTicks(c.from, c.to, berlin, c.most) {
			got = append(got, tick.Label)
			if when := time.Unix(int64(tick.Value), 0).In(berlin); when.Hour() != 0 || when.Minute() != 0 {
				t.Errorf("%s lies at %s, not at midnight", tick.Label, when)
			}
		}
		if strings.Join(got, "|") != c.want {
			t.Errorf("%s to %s: %v, want %s", c.from.Format(time.DateOnly), c.to.Format(time.DateOnly), got, c.want)
		}
	}
}

func TestValueTicks_AreRoundAndInside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lo := rapid.Float64Range(-100, 100).Draw(t, "lo")
		span := rapid.Float64Range(0.01, 1000).Draw(t, "span")
		most := rapid.IntRange(2, 9).Draw(t, "most")
		f := Range{lo, lo + span}
		ticks := valueTicks(f, most, "")
		if len(ticks) > most+1 {
			t.Fatalf("%d ticks, want about %d", len(ticks), most)
		}
		seen := map[string]bool{}
		for _, tick := range ticks {
			if tick.Value < f.Lo-1e-9 || tick.Value > f.Hi+1e-9 {
				t.Fatalf("tick %v outside %v", tick.Value, f)
			}
			if seen[tick.Label] {
				t.Fatalf("two ticks are called %s", tick.Label)
			}
			seen[tick.Label] = true
		}
	})
}

// Any readings and any period make a picture, without a panic and without a
// number that is none.
func TestPicture_Any_IsDrawn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Picture{From: at(0), To: at(rapid.IntRange(1, 4000).Draw(t, "days")), MinSpan: rapid.Float64Range(0, 2).Draw(t, "span")}
		s := Series{Shape: rapid.SampledFrom(Shapes()).Draw(t, "shape")}
		for range rapid.IntRange(0, 30).Draw(t, "n") {
			s.Marks = append(s.Marks, Mark{at(rapid.IntRange(-10, 4010).Draw(t, "day")), rapid.Float64Range(-50, 50).Draw(t, "v")})
		}
		p.Series = []Series{s}
		var b bytes.Buffer
		if err := p.SVG(&b, rapid.SampledFrom([]Size{Wide, Narrow, Spark, Print}).Draw(t, "size")); err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(b.Bytes(), []byte("NaN")) || bytes.Contains(b.Bytes(), []byte("Inf")) {
			t.Fatalf("a number is none: %s", b.String())
		}
	})
}
