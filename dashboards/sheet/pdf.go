package sheet

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"weighbeam/dashboards/chart"
)

// Paper is a size of paper in points.
type Paper struct {
	Name string
	W, H float64
}

// The papers: ISO 216 A4 is 210 by 297 mm, Letter 8.5 by 11 inches.
var (
	A4     = Paper{"a4", 210 / 25.4 * 72, 297 / 25.4 * 72}
	Letter = Paper{"letter", 612, 792}
)

// PaperNamed returns the paper of that name, A4 for any other.
func PaperNamed(name string) Paper {
	if name == Letter.Name {
		return Letter
	}
	return A4
}

// fit is how small the type and how long the lists are.
type fit struct {
	size float64 // of the type, points
	most int     // entries of a list
	rows int     // of a table
}

// fits are tried in turn until everything stands on two pages. Below seven and a
// half points a photocopy is hard to read.
var fits = []fit{{9, 14, 13}, {9, 10, 13}, {8.5, 10, 13}, {8, 10, 13}, {8, 7, 13}, {7.5, 7, 13}, {7.5, 5, 13}, {7.5, 3, 8}, {7.5, 2, 6}}

// heights of the chart across the first page, in points: the highest that the
// page has room for.
var heights = []float64{240, 200, 160, 130, 90}

// PDF writes s on paper.
func (s Sheet) PDF(w io.Writer, p Paper) error {
	for _, f := range fits {
		set := s.tallest(p, f)
		if set.pages <= 2 {
			return set.write(w)
		}
	}
	return s.set(p, fits[len(fits)-1], heights[len(heights)-1]).write(w) // a third page is better than a cut
}

// tallest sets s with the highest picture that two pages have room for; more than
// two pages where even the lowest has none.
func (s Sheet) tallest(p Paper, f fit) *setting {
	set := s.set(p, f, heights[0])
	if set.pages <= 2 {
		return set
	}
	if low := s.set(p, f, heights[len(heights)-1]); low.pages > 2 {
		return low
	}
	for _, high := range heights[1:] {
		if set = s.set(p, f, high); set.pages <= 2 {
			break
		}
	}
	return set
}

// setting is one attempt to put a sheet on paper.
type setting struct {
	doc   *fpdf.Fpdf
	paper Paper
	fit
	high  float64 // of the chart across the page
	pages int
}

const margin = 40

func (s Sheet) set(p Paper, f fit, high float64) *setting {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: p.W, Ht: p.H}})
	fonts(doc)
	doc.SetAutoPageBreak(false, 0)
	doc.SetCatalogSort(true)
	doc.SetMargins(margin, margin, margin)
	s.describe(doc)
	set := &setting{doc: doc, paper: p, fit: f, high: high}
	set.lay(s)
	set.footers(s)
	return set
}

// describe writes what a reader's program and an archive ask of a document.
func (s Sheet) describe(doc *fpdf.Fpdf) {
	title := s.Name + ": sheet for the practice"
	doc.SetTitle(title, true)
	doc.SetSubject("Weighings and checks at home, "+s.Period, true)
	doc.SetCreator("Weighbeam", true)
	doc.SetProducer("Weighbeam", true)
	doc.SetLang("en")
	doc.SetCreationDate(s.Made.UTC())
	doc.SetModificationDate(s.Made.UTC())
	made := s.Made.UTC().Format(time.RFC3339)
	doc.SetXmpMetadata(fmt.Appendf(nil, `<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/" xmlns:xmp="http://ns.adobe.com/xap/1.0/">
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">%s</rdf:li></rdf:Alt></dc:title>
<dc:language><rdf:Bag><rdf:li>en</rdf:li></rdf:Bag></dc:language>
<xmp:CreateDate>%s</xmp:CreateDate><xmp:ModifyDate>%s</xmp:ModifyDate><xmp:CreatorTool>Weighbeam</xmp:CreatorTool>
</rdf:Description></rdf:RDF></x:xmpmeta>
<?xpacket end="r"?>`, html.EscapeString(title), made, made))
}

func (t *setting) write(w io.Writer) error {
	var out bytes.Buffer
	if err := t.doc.Output(&out); err != nil {
		return fmt.Errorf("set sheet: %w", err)
	}
	_, err := out.WriteTo(w)
	return err
}

// lay puts the sections into frames: the first page whole, then two columns.
func (t *setting) lay(s Sheet) {
	f := &flow{setting: t}
	f.next(true)
	f.y = t.header(s)
	for _, sec := range s.Sections {
		if sec.Second && !f.columns {
			f.next(false)
		}
		f.section(sec)
	}
	t.pages = t.doc.PageCount()
}

// header says whose sheet it is, and returns where the page goes on.
func (t *setting) header(s Sheet) float64 {
	w := t.paper.W - 2*margin
	y := margin + t.lines(margin, margin, w, serif, "B", 2.2*t.size, s.named())
	y += t.lines(margin, y+1, w, chart.Face, "", t.size, s.About)
	y += t.lines(margin, y+1, w, chart.Face, "", t.size,
		"Weighings and checks at home, "+s.Period+". Put together on "+s.MadeOn+".")
	t.rule(margin, y+4, w, 1.2)
	return y + 6
}

// footers number the pages and carry the caution.
func (t *setting) footers(s Sheet) {
	w := t.paper.W - 2*margin
	for i := range t.pages {
		t.doc.SetPage(i + 1)
		t.doc.SetFillColor(255, 255, 255) // the page ends with another than the document does
		top := t.bottom() + 5
		t.rule(margin, top, w, .5)
		t.lines(margin, top+3, w-90, chart.Face, "", 6.8, s.Caution)
		t.right(margin+w, top+3, 6.8, fmt.Sprintf("%s, page %d of %d", shortened(s.named(), 24), i+1, t.pages))
	}
}

// bottom is where the room for text ends.
func (t *setting) bottom() float64 { return t.paper.H - margin - 22 }

func shortened(s string, most int) string {
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}
