package sheet

import (
	"strings"
	"sync"
	"unicode"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-fonts/liberation/liberationserifbold"
	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/text/unicode/bidi"
	"golang.org/x/text/unicode/norm"

	"weighbeam/dashboards/chart"
)

const serif = "Liberation Serif"

// fonts embeds the letters that doc needs: Latin, Greek, Cyrillic and Hebrew,
// under the SIL Open Font Licence.
func fonts(doc *fpdf.Fpdf) {
	doc.AddUTF8FontFromBytes(chart.Face, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(chart.Face, "B", liberationsansbold.TTF)
	doc.AddUTF8FontFromBytes(serif, "B", liberationserifbold.TTF)
}

var glyphs = sync.OnceValue(func() *sfnt.Font {
	f, err := sfnt.Parse(liberationsansregular.TTF)
	if err != nil {
		panic("embedded font: " + err.Error()) // it is part of the program
	}
	return f
})

// alike are letters that the fonts have in place of some that they do not.
var alike = map[rune]rune{'◇': '◊', '△': '∆', '\u00a0': ' ', '\t': ' ', '\n': ' '}

// missing stands for a letter that the fonts do not have.
const missing = '□'

// printable is s in letters that the fonts have.
func printable(s string) string {
	var out strings.Builder
	var buf sfnt.Buffer
	for _, r := range norm.NFC.String(s) {
		if a, ok := alike[r]; ok {
			r = a
		}
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
			continue
		}
		if i, err := glyphs().GlyphIndex(&buf, r); err != nil || i == 0 || r > 0xffff {
			r = missing
		}
		out.WriteRune(r)
	}
	return out.String()
}

// named is the cat's name as it is printed: where the fonts lack letters of it, with
// the short name that every other record has, so that two cats cannot be mistaken.
func (s Sheet) named() string {
	if s.CatID == "" || !strings.ContainsRune(printable(s.Name), missing) {
		return s.Name
	}
	return s.Name + " (" + s.CatID + ")"
}

// visual puts a line into the order in which it stands on paper: what is written
// from right to left is turned around.
func visual(s string) string {
	if !strings.ContainsFunc(s, func(r rune) bool {
		p, _ := bidi.LookupRune(r)
		return p.Class() == bidi.R || p.Class() == bidi.AL
	}) {
		return s
	}
	var p bidi.Paragraph
	if _, err := p.SetString(s, bidi.DefaultDirection(bidi.LeftToRight)); err != nil {
		return s
	}
	order, err := p.Order()
	if err != nil {
		return s
	}
	var out strings.Builder
	for i := range order.NumRuns() {
		run := order.Run(i)
		if run.Direction() == bidi.RightToLeft {
			out.WriteString(bidi.ReverseString(run.String()))
		} else {
			out.WriteString(run.String())
		}
	}
	return out.String()
}
