package sheet_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/dashboards/chart"
	"weighbeam/dashboards/sheet"
)

var made = time.Date(2026, 3, 28, 18, 45, 0, 0, time.UTC)

// small is a sheet of every kind of section.
func small() sheet.Sheet {
	pic := chart.Picture{Title: "Weight", From: made.AddDate(-1, 0, 0), To: made, Unit: "kg", Usual: chart.Range{Lo: 4.1, Hi: 4.3}, UsualWords: "usual"}
	marks := chart.Series{Name: "hall-box"}
	for i := range 300 {
		marks.Marks = append(marks.Marks, chart.Mark{Time: made.AddDate(0, 0, -i), Value: 4.2 + .01*float64(i%7)})
	}
	pic.Series = []chart.Series{marks}
	return sheet.Sheet{CatID: "mustard", Name: "Mustard", About: "Female, 12 years old.", Period: "28 Mar 2025 to 28 Mar 2026", Made: made, MadeOn: "28 Mar 2026, 18:45",
		Caution: "It watches.",
		Sections: []sheet.Section{
			{Heading: "Why this sheet", Reasons: []sheet.Reason{{Sign: "Weight is falling", Deed: "Book a visit", Text: "It fell from 4.4 kg.", Facts: []sheet.Fact{{Name: "Pace", Value: "−0.5 % a week", Interval: "−0.8 to −0.3"}}}}},
			{Heading: "Weight", Chart: &sheet.Chart{Picture: pic, Legend: []sheet.Key{{Glyph: "◇", Words: "hall-box"}}},
				Table: &sheet.Table{Name: "By month", Head: []string{"Month", "Weighings", "Taken by"}, Text: []int{2}, Rows: [][]string{{"Mar 2026", "71", "hall-box"}}}},
			{Heading: "Breaths", Second: true, List: []sheet.Entry{{When: made, Day: "28 Mar 2026", Words: "11 breaths in 30 s"}}},
			{Heading: "Lumps", Lumps: []sheet.Lump{{Number: 1, X: .4, Y: .3, Words: "left shoulder, 8 by 6 mm"}}},
			{Heading: "Not known", Points: []string{"Not measured: temperature."}},
		}}
}

func pdf(t testing.TB, s sheet.Sheet, p sheet.Paper) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := s.PDF(&out, p); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// told is what a program of poppler says of a PDF.
func told(t *testing.T, content []byte, program string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s is missing, and CI is set: apt-get install poppler-utils", program)
		}
		t.Skipf("SKIPPED, %s is missing: apt-get install poppler-utils", program)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, content, 0o600); err != nil {
		t.Fatal(err)
	}
	var stderr bytes.Buffer
	cmd := exec.Command(path, append(args, file)...)
	if program == "pdftotext" {
		cmd.Args = append(cmd.Args, "-")
	}
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil || stderr.Len() > 0 {
		t.Fatalf("%s: %v %s", program, err, stderr.String())
	}
	return string(out)
}

// All that the sheet holds can be selected as text, in order.
func TestSheet_PDF_SaysAll(t *testing.T) {
	text := told(t, pdf(t, small(), sheet.A4), "pdftotext", "-raw")
	at := 0
	for _, want := range []string{"Mustard", "Female, 12 years old.", "Why this sheet", "Weight is falling. Book a visit.", "It fell from 4.4 kg.", "Pace", "−0.5 % a week", "−0.8 to −0.3",
		"usual", "◊ hall-box", "Mar 2026", "71", "It watches.", "Breaths", "11 breaths in 30 s", "left shoulder, 8 by 6 mm", "Not measured: temperature."} {
		i := strings.Index(text[at:], want)
		if i < 0 {
			t.Errorf("after %q the text does not say %q", text[max(0, at-30):at], want)
			continue
		}
		at += i
	}
}

// A column that has no room beside others stands where the table goes across the page.
func TestSheet_PDF_WideTable_IsCutInAColumn(t *testing.T) {
	for _, second := range []bool{false, true} {
		s := small()
		s.Sections[1].Table.Wide, s.Sections[1].Second = 1, second
		text := told(t, pdf(t, s, sheet.A4), "pdftotext", "-raw")
		if strings.Contains(text, "Taken by") == second || !strings.Contains(text, "Weighings") {
			t.Errorf("in a column %v: %s", second, text)
		}
	}
}

func TestSheet_PDF_IsDescribed(t *testing.T) {
	for _, paper := range []struct {
		paper sheet.Paper
		size  string
	}{{sheet.A4, "595.28 x 841.89 pts (A4)"}, {sheet.Letter, "612 x 792 pts (letter)"}} {
		content := pdf(t, small(), paper.paper)
		info := told(t, content, "pdfinfo")
		for _, want := range []string{"Mustard: sheet for the practice", paper.size, "Pages:           2", "Sat Mar 28 18:45:00 2026", "Encrypted:       no"} {
			if !strings.Contains(info, want) {
				t.Errorf("%s: pdfinfo does not say %q:\n%s", paper.paper.Name, want, info)
			}
		}
		if !bytes.Contains(content, []byte("/Lang (en)")) || bytes.Contains(content, []byte("/Subtype /Image")) || bytes.Contains(content, []byte("/SMask")) || bytes.Contains(content, []byte("/ca ")) {
			t.Error("no language, a picture of dots or something transparent")
		}
	}
}

// Every font is in the file, so that it prints the same anywhere.
func TestSheet_PDF_FontsAreEmbedded(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(told(t, pdf(t, small(), sheet.A4), "pdffonts")), "\n")[2:]
	embedded := regexp.MustCompile(`\s(yes|no)\s+(yes|no)\s+(yes|no)\s+\d+`)
	for _, l := range lines {
		if m := embedded.FindStringSubmatch(l); m == nil || m[1] != "yes" || m[3] != "yes" {
			t.Errorf("not embedded, or without a way back to its letters: %s", l)
		}
	}
	if len(lines) != 3 {
		t.Errorf("%d fonts, want 3", len(lines))
	}
}

func TestSheet_PDF_NamesInManyLetters(t *testing.T) {
	for _, row := range []struct{ name, want string }{
		{"Łucja Çelik-Ðorđević", "Łucja Çelik-Ðorđević"},
		{"Ψιψίνα", "Ψιψίνα"},
		{"Муся Щёголева", "Муся Щёголева"},
		// From right to left, alone and inside other words.
		{"חתולה", "חתולה"},
		// A letter that no font here has, and one beyond the basic plane.
		{"Mochi 🐈 餅", "Mochi □ □ (" + small().CatID + ")"},
		{"小花", "□□ (" + small().CatID + ")"},
		// A letter made of two.
		{"Zoe\u0308", "Zoë"},
	} {
		s := small()
		s.Name = row.name
		if text := told(t, pdf(t, s, sheet.A4), "pdftotext"); !strings.Contains(text, row.want) {
			t.Errorf("%q: the text does not say %q: %.60q", row.name, row.want, text)
		}
	}
}

// much is a sheet with more than two pages can hold in large type.
func much() sheet.Sheet {
	s := small()
	s.Name = strings.Repeat("Wilhelmina-Friederike ", 6)
	for i := range 5 {
		r := s.Sections[0].Reasons[0]
		r.Text = strings.Repeat("It fell from 4.4 kg and went on falling. ", 4)
		r.Sign = fmt.Sprint("Sign ", i)
		s.Sections[0].Reasons = append(s.Sections[0].Reasons, r)
	}
	for i := range 13 {
		s.Sections[1].Table.Rows = append(s.Sections[1].Table.Rows, []string{fmt.Sprint("Month ", i), "71", "hall-box"})
	}
	for i := range 80 {
		s.Sections[2].List = append(s.Sections[2].List, sheet.Entry{When: made, Day: "28 Mar 2026", Words: fmt.Sprint(i, " breaths, ", strings.Repeat("counted again ", 9))})
	}
	return s
}

// Much is set smaller and in shorter lists, and what is left out is told.
func TestSheet_PDF_MuchStaysOnTwoPages(t *testing.T) {
	for _, p := range []sheet.Paper{sheet.A4, sheet.Letter} {
		content := pdf(t, much(), p)
		if info := told(t, content, "pdfinfo"); !strings.Contains(info, "Pages:           2") {
			t.Errorf("%s: %s", p.Name, info)
		}
		text := told(t, content, "pdftotext", "-raw")
		if !regexp.MustCompile(`\d+ more are not on paper`).MatchString(text) || !strings.Contains(text, "Not measured: temperature.") {
			t.Error("it does not say what is left out, or lost its end")
		}
	}
}

// The same sheet is the same file, byte for byte.
func TestSheet_PDF_IsTheSameEachTime(t *testing.T) {
	if !bytes.Equal(pdf(t, small(), sheet.A4), pdf(t, small(), sheet.A4)) {
		t.Error("two files of one sheet differ")
	}
}

// Whatever people type, a file comes out.
func TestSheet_PDF_AnyWords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := small()
		s.Name = rapid.String().Draw(rt, "name")
		s.Sections[2].List[0].Words = rapid.String().Draw(rt, "words")
		s.Sections[1].Chart = nil // the slow part, and not about words
		var out bytes.Buffer
		if err := s.PDF(&out, sheet.A4); err != nil || !bytes.HasPrefix(out.Bytes(), []byte("%PDF-")) {
			rt.Fatalf("%q: %v", s.Name, err)
		}
	})
}

func BenchmarkSheet_PDF(b *testing.B) {
	s := small()
	for b.Loop() {
		pdf(b, s, sheet.A4)
	}
}
