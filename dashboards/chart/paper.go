package chart

import (
	"image/color"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Face is the font family, in regular style, that a PDF document must know
// before a picture is drawn on it: the one that the pictures are laid out with.
const Face = "Liberation Sans"

// OnPage draws p as lines and text on the current page of a document in points,
// its top left corner at (x, y), in the inks of a photocopier.
func (p Picture) OnPage(doc *fpdf.Fpdf, x, y float64, s Size) {
	c := &page{pad: newPad(x, y, vg.Length(s.W), vg.Length(s.H)), doc: doc}
	vg.Initialize(c)
	doc.SetLineJoinStyle("round")
	p.draw(draw.New(c), s)
	doc.SetDashPattern(nil, 0)
	doc.SetDrawColor(0, 0, 0)
	doc.SetTextColor(0, 0, 0)
}

// page draws what gonum/plot draws on a page of a PDF document.
type page struct {
	pad
	doc *fpdf.Fpdf
}

func (c *page) Stroke(p vg.Path) {
	if c.state.width <= 0 {
		return
	}
	ink := printed(c.state.color)
	c.doc.SetDrawColor(int(ink.R), int(ink.G), int(ink.B))
	c.doc.SetLineWidth(c.state.width.Points())
	var dashes []float64
	for _, d := range c.state.dash {
		dashes = append(dashes, d.Points())
	}
	c.doc.SetDashPattern(dashes, 0)
	if len(dashes) > 0 {
		c.doc.SetLineCapStyle("butt")
	} else {
		c.doc.SetLineCapStyle("round") // turns a line of no length into a dot
	}
	c.path(p)
	c.doc.DrawPath("D")
}

func (c *page) Fill(p vg.Path) {
	ink := printed(c.state.color)
	c.doc.SetFillColor(int(ink.R), int(ink.G), int(ink.B))
	c.path(p)
	c.doc.DrawPath("F")
}

// path draws lines only, as the SVG does.
func (c *page) path(p vg.Path) {
	for _, comp := range p {
		x, y := c.place(comp.Pos)
		switch comp.Type {
		case vg.CloseComp:
			c.doc.ClosePath()
		case vg.MoveComp:
			c.doc.MoveTo(x, y)
		default:
			c.doc.LineTo(x, y)
		}
	}
}

func (c *page) FillString(f font.Face, p vg.Point, s string) {
	ink := printed(c.state.color)
	x, y := c.place(p)
	c.doc.SetFont(Face, "", f.Font.Size.Points())
	c.doc.SetTextColor(int(ink.R), int(ink.G), int(ink.B))
	c.doc.Text(x, y, s)
}

func printed(col color.Color) color.NRGBA {
	if ink, ok := col.(Ink); ok {
		return ink.printed()
	}
	return Strong.printed()
}
