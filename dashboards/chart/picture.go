package chart

import (
	"fmt"
	"html"
	"io"
	"time"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"weighbeam/home"
)

// Size is how large a picture is drawn, in points; one point is one CSS pixel.
type Size struct {
	W, H  float64
	Words float64 // size of its words, 0 for a picture without any
	Plain bool    // black on white, whatever the reader prefers
}

// The sizes of a chart: for a page, low for what stands under others, for a narrow phone, for a line of a list,
// and for paper.
var (
	Wide   = Size{W: 720, H: 300, Words: 12}
	Low    = Size{W: 720, H: 180, Words: 12}
	Narrow = Size{W: 320, H: 240, Words: 12}
	Spark  = Size{W: 260, H: 80}
	Print  = Size{W: 720, H: 250, Words: 12, Plain: true}
)

// Mark is one reading.
type Mark struct {
	Time  time.Time
	Value float64
}

// Series is the readings of one source, told apart by the shape of its marks.
type Series struct {
	Name  string
	Shape Shape
	Marks []Mark
}

// Range is two values, lower first. The zero Range is none.
type Range struct{ Lo, Hi float64 }

// Span is a time with its interval. The zero Span is none.
type Span struct{ At, Lo, Hi time.Time }

// Level is a fixed line with its words.
type Level struct {
	Value float64
	Words string
}

// Moment is something that happened, named by a letter that the legend explains.
type Moment struct {
	At     time.Time
	Letter string
}

// Picture is all that one chart shows, in the unit it is shown in.
type Picture struct {
	Title, Desc string // said by a screen reader
	Unit        string // written at the topmost tick
	From, To    time.Time
	Zone        *time.Location
	Series      []Series
	Line        []home.TrendPoint // in time order
	Usual       Range
	UsualWords  string
	Began       Span
	BeganWords  string
	Levels      []Level
	Moments     []Moment // in time order
	Pace        []Mark   // a line that readings are held against, as the fastest pace of a plan
	MinSpan     float64  // the least height of the y axis, so that noise looks like noise
}

// SVG writes p as a document of its own.
func (p Picture) SVG(w io.Writer, s Size) error {
	return document(w, s, p.Title, p.Desc, func(c draw.Canvas) { p.draw(c, s) })
}

// document writes what paint draws as an SVG that stands alone.
func document(w io.Writer, s Size, title, desc string, paint func(draw.Canvas)) error {
	c := newCanvas(vg.Length(s.W), vg.Length(s.H))
	paint(draw.New(c))
	style := css
	if s.Plain {
		style = paperCSS
	}
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" width="%s" height="%s" role="img" aria-labelledby="t d">
<title id="t">%s</title>
<desc id="d">%s</desc>
<style>%s</style>
%s</svg>
`, num(s.W), num(s.H), num(s.W), num(s.H), html.EscapeString(title), html.EscapeString(desc), style, c.buf.String())
	return err
}

func (p Picture) draw(c draw.Canvas, s Size) {
	c.SetColor(Paper)
	c.Fill(c.Rectangle.Path())
	p.plot(s).Draw(p.crop(c, s))
}

// crop leaves room above the frame for words and beside it for half a mark.
func (p Picture) crop(c draw.Canvas, s Size) draw.Canvas {
	top := vg.Length(2)
	if s.Words > 0 && (!p.Began.At.IsZero() || len(p.Moments) > 0) {
		top = vg.Length(s.Words) + 6
	}
	return draw.Crop(c, 0, -4, 0, -top)
}

// PNG writes p at two dots a point, in its light colours.
func (p Picture) PNG(w io.Writer, s Size) error {
	c := vgimg.NewWith(vgimg.UseWH(vg.Length(s.W), vg.Length(s.H)), vgimg.UseDPI(144))
	p.draw(draw.New(c), s)
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}
