package chart

import (
	"bytes"
	"fmt"
	"html"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// canvas writes what gonum/plot draws as SVG. Points are turned into place here
// instead of by nested groups, which keeps the file small.
type canvas struct {
	pad
	buf bytes.Buffer
}

func newCanvas(w, h vg.Length) *canvas {
	c := &canvas{pad: newPad(0, 0, w, h)}
	vg.Initialize(c)
	return c
}

func (c *canvas) Stroke(p vg.Path) {
	if c.state.width <= 0 {
		return
	}
	fmt.Fprintf(&c.buf, `<path class="%s" fill="none" stroke="currentColor" stroke-width="%s"`,
		class(c.state.color), num(c.state.width.Points()))
	if len(c.state.dash) > 0 {
		c.buf.WriteString(` stroke-dasharray="`)
		for i, d := range c.state.dash {
			if i > 0 {
				c.buf.WriteByte(' ')
			}
			c.buf.WriteString(num(d.Points()))
		}
		c.buf.WriteByte('"')
	} else {
		// A round cap turns a line of no length into a dot.
		c.buf.WriteString(` stroke-linecap="round" stroke-linejoin="round"`)
	}
	c.d(p)
}

func (c *canvas) Fill(p vg.Path) {
	fmt.Fprintf(&c.buf, `<path class="%s" fill="currentColor"`, class(c.state.color))
	c.d(p)
}

// d writes a path in steps from point to point, in whole tenths so that they
// do not drift: ten years of marks come to a quarter of their absolute places.
func (c *canvas) d(p vg.Path) {
	c.buf.WriteString(` d="`)
	var x, y, startX, startY int
	for _, comp := range p {
		if comp.Type == vg.CloseComp {
			c.buf.WriteByte('z')
			x, y = startX, startY // where SVG puts the pen then
			continue
		}
		nx, ny := c.tenths(comp.Pos)
		switch {
		case comp.Type == vg.MoveComp:
			c.step('m', nx-x, ny-y)
			startX, startY = nx, ny
		case nx == x && ny == y:
			c.buf.WriteString("h0") // a dot, by its round cap
		default:
			// Nothing here draws curves; a chord keeps an unforeseen one visible.
			c.step('l', nx-x, ny-y)
		}
		x, y = nx, ny
	}
	c.buf.WriteString("\"/>\n")
}

func (c *canvas) step(verb byte, dx, dy int) {
	c.buf.WriteByte(verb)
	c.buf.WriteString(num(float64(dx) / 10))
	if dy >= 0 {
		c.buf.WriteByte(' ') // a minus sign parts the numbers by itself
	}
	c.buf.WriteString(num(float64(dy) / 10))
}

func (c *canvas) tenths(p vg.Point) (x, y int) {
	fx, fy := c.place(p)
	return int(math.Round(fx * 10)), int(math.Round(fy * 10))
}

// FillString draws upright text; no chart here turns its words. The length is
// stated, so that words stay inside the picture in whatever font the reader has.
func (c *canvas) FillString(f font.Face, p vg.Point, s string) {
	x, y := c.place(p)
	fmt.Fprintf(&c.buf, `<text class="%s" fill="currentColor" x="%s" y="%s" font-size="%s" textLength="%s" lengthAdjust="spacingAndGlyphs">%s</text>`+"\n",
		class(c.state.color), num(x), num(y), num(f.Font.Size.Points()), num(f.Width(s).Points()), html.EscapeString(s))
}

func class(col color.Color) string {
	if ink, ok := col.(Ink); ok {
		return ink.class
	}
	return Strong.class
}

// num writes a length to a tenth of a point: finer than any screen shows.
func num(v float64) string {
	v = math.Round(v*10) / 10
	if v == 0 {
		return "0" // never "-0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
