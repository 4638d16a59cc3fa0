package chart

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Shape tells the sources apart without colour.
type Shape int

// The shapes of a mark.
const (
	Dot Shape = iota
	Plus
	Diamond
	Cross
	Square
	Triangle
)

// Shapes lists every shape, in the order to give them out.
func Shapes() []Shape { return []Shape{Dot, Plus, Diamond, Cross, Square, Triangle} }

// Glyph is the character that looks most like the shape, for a legend in words.
func (s Shape) Glyph() string {
	return [...]string{"•", "+", "◇", "×", "□", "△"}[s]
}

// strokes are the lines of each shape around (0, 0), in units of its radius.
var strokes = [...][][][2]vg.Length{
	Dot:      {{{0, 0}, {0, 0}}},
	Plus:     {{{-1, 0}, {1, 0}}, {{0, -1}, {0, 1}}},
	Diamond:  {{{0, -1.2}, {1.2, 0}, {0, 1.2}, {-1.2, 0}, {0, -1.2}}},
	Cross:    {{{-.8, -.8}, {.8, .8}}, {{-.8, .8}, {.8, -.8}}},
	Square:   {{{-.8, -.8}, {.8, -.8}, {.8, .8}, {-.8, .8}, {-.8, -.8}}},
	Triangle: {{{-1, -.7}, {1, -.7}, {0, 1}, {-1, -.7}}},
}

// marks draws a series as one path. Marks that would fall on the same spot are
// drawn once: they could not be told apart, and ten years of them would make a
// file of megabytes. A spot is smaller than a mark, and where there are
// thousands of marks, as large as one.
type marks struct {
	Series
	frame Range
	small bool // in a picture without words, where only the crowd matters
}

func (m marks) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	shape, width := m.look()
	crowd := len(m.Marks) > 3000
	grain := spots(shape, crowd)
	var path vg.Path
	drawn := map[[2]int]bool{}
	for _, one := range m.Marks {
		at := vg.Point{X: trX(unix(one.Time)), Y: trY(one.Value)}
		beyond := one.Value < m.frame.Lo || one.Value > m.frame.Hi
		if at.X < c.Min.X || at.X > c.Max.X {
			continue
		}
		spot := [2]int{int(at.X * grain), int(at.Y * grain)}
		if drawn[spot] {
			continue
		}
		drawn[spot] = true
		if crowd { // a point off at most, and shorter to write
			at = vg.Point{X: vg.Length(math.Round(at.X.Points())), Y: vg.Length(math.Round(at.Y.Points()))}
		}
		if beyond {
			path = append(path, pinned(c, at)...)
		} else {
			path = append(path, shape.at(at, 3)...)
		}
	}
	c.SetColor(Faint)
	c.SetLineWidth(width)
	c.SetLineDash(nil, 0)
	c.Stroke(path)
}

// look is the shape and the width of the lines that the marks are drawn with.
func (m marks) look() (Shape, vg.Length) {
	switch {
	case m.small:
		return Dot, 1.4
	case m.Shape == Dot:
		return Dot, 2.6
	}
	return m.Shape, 1
}

// spots is how many spots there are to a point, each way.
func spots(s Shape, crowd bool) vg.Length {
	switch {
	case crowd && s == Dot:
		return 0.5
	case crowd:
		return 0.25
	}
	return 1.5
}

func (s Shape) at(p vg.Point, r vg.Length) vg.Path {
	var path vg.Path
	for _, stroke := range strokes[s] {
		for i, d := range stroke {
			q := vg.Point{X: p.X + d[0]*r, Y: p.Y + d[1]*r}
			if i == 0 {
				path.Move(q)
			} else {
				path.Line(q)
			}
		}
	}
	return path
}

// pinned is an arrow head at the edge of the frame that a reading lies beyond.
func pinned(c draw.Canvas, at vg.Point) vg.Path {
	edge, back := c.Max.Y-1, vg.Length(-5)
	if at.Y < c.Min.Y {
		edge, back = c.Min.Y+1, 5
	}
	var path vg.Path
	path.Move(vg.Point{X: at.X - 3, Y: edge + back})
	path.Line(vg.Point{X: at.X, Y: edge})
	path.Line(vg.Point{X: at.X + 3, Y: edge + back})
	return path
}
