package chart

import (
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// moments are thin lines from top to bottom with their letters above the frame.
// Letters that would touch are drawn once for all of them: "a–c".
type moments struct {
	all  []Moment
	size float64
}

func (m moments) Plot(c draw.Canvas, p *plot.Plot) {
	trX, _ := p.Transforms(&c)
	var from string
	var last vg.Length
	write := func(to string) {
		if from == "" {
			return
		}
		words := from
		if to != from {
			words += "–" + to
		}
		label{words, m.size}.write(c, vg.Point{X: last, Y: c.Max.Y + 3}, text.XCenter, Text)
	}
	prev := ""
	for _, one := range m.all {
		x := trX(unix(one.At))
		if x < c.Min.X || x > c.Max.X {
			continue
		}
		c.StrokeLine2(draw.LineStyle{Color: Faint, Width: 1, Dashes: []vg.Length{1, 2}}, x, c.Min.Y, x, c.Max.Y)
		if from == "" || x-last > vg.Length(2.2*m.size) {
			write(prev)
			from, last = one.Letter, x
		}
		prev = one.Letter
	}
	write(prev)
}

// pace is a thin dashed line.
type pace []Mark

func (p pace) Plot(c draw.Canvas, pl *plot.Plot) {
	trX, trY := pl.Transforms(&c)
	var pts []vg.Point
	for _, m := range p {
		if x := unix(m.Time); x >= pl.X.Min && x <= pl.X.Max {
			pts = append(pts, vg.Point{X: trX(x), Y: trY(m.Value)})
		}
	}
	if len(pts) > 1 {
		c.StrokeLines(draw.LineStyle{Color: Strong, Width: 1, Dashes: []vg.Length{7, 3, 1, 3}}, pts)
	}
}
