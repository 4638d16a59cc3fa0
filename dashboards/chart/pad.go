package chart

import (
	"image"
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
)

// pad is what every canvas keeps: its size, the pen, and where points fall on it.
type pad struct {
	w, h  vg.Length
	state pen
	stack []pen
}

// newPad is a pad whose top left corner is at (x, y) of the medium. vg has its
// origin at the bottom left, SVG and PDF pages here at the top left.
func newPad(x, y float64, w, h vg.Length) pad {
	return pad{w: w, h: h, state: pen{at: affine{1, 0, 0, -1, x, y + h.Points()}}}
}

type pen struct {
	color color.Color
	width vg.Length
	dash  []vg.Length
	at    affine
}

// affine maps (x, y) to (a*x + c*y + e, b*x + d*y + f).
type affine struct{ a, b, c, d, e, f float64 }

func (m affine) then(n affine) affine {
	return affine{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

func (c *pad) Size() (x, y vg.Length)                  { return c.w, c.h }
func (c *pad) SetLineWidth(w vg.Length)                { c.state.width = w }
func (c *pad) SetLineDash(d []vg.Length, _ vg.Length)  { c.state.dash = d }
func (c *pad) SetColor(col color.Color)                { c.state.color = col }
func (c *pad) DrawImage(_ vg.Rectangle, _ image.Image) {} // no chart here has one
func (c *pad) Push()                                   { c.stack = append(c.stack, c.state) }

func (c *pad) Pop() {
	c.state = c.stack[len(c.stack)-1]
	c.stack = c.stack[:len(c.stack)-1]
}

func (c *pad) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.state.at = c.state.at.then(affine{cos, sin, -sin, cos, 0, 0})
}

func (c *pad) Translate(p vg.Point) {
	c.state.at = c.state.at.then(affine{1, 0, 0, 1, p.X.Points(), p.Y.Points()})
}

func (c *pad) Scale(x, y float64) {
	c.state.at = c.state.at.then(affine{x, 0, 0, y, 0, 0})
}

func (c *pad) place(p vg.Point) (x, y float64) {
	m, px, py := c.state.at, p.X.Points(), p.Y.Points()
	return m.a*px + m.c*py + m.e, m.b*px + m.d*py + m.f
}
