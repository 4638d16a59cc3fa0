package chart

import (
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"weighbeam/home"
)

// grid is a thin line at each value tick.
type grid struct{}

func (grid) Plot(c draw.Canvas, p *plot.Plot) {
	_, trY := p.Transforms(&c)
	sty := draw.LineStyle{Color: Rule, Width: 0.75}
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		c.StrokeLine2(sty, c.Min.X, trY(t.Value), c.Max.X, trY(t.Value))
	}
}

// usual is the usual range: two dashed lines with their word above the upper.
type usual struct {
	Range
	label
}

func (u usual) Plot(c draw.Canvas, p *plot.Plot) {
	if u.Range == (Range{}) {
		return
	}
	_, trY := p.Transforms(&c)
	sty := draw.LineStyle{Color: Faint, Width: 1, Dashes: []vg.Length{5, 4}}
	for _, v := range []float64{u.Lo, u.Hi} {
		c.StrokeLine2(sty, c.Min.X, trY(v), c.Max.X, trY(v))
	}
	u.write(c, vg.Point{X: c.Min.X + 4, Y: trY(u.Hi) + 3}, text.XLeft, Text)
}

func (l label) write(c draw.Canvas, at vg.Point, align text.XAlignment, ink Ink) {
	if l.size == 0 || l.text == "" {
		return
	}
	sty := style(l.size, ink)
	sty.XAlign, sty.YAlign = align, text.YBottom
	c.FillText(sty, at, l.text)
}

// began shades the interval in which a change began and draws its likeliest time.
type began Span

func (b began) Plot(c draw.Canvas, p *plot.Plot) {
	if b.At.IsZero() {
		return
	}
	x := Span(b).across(c, p)
	if lo, hi := x(b.Lo), x(b.Hi); hi > lo {
		c.FillPolygon(Onset, []vg.Point{{X: lo, Y: c.Min.Y}, {X: hi, Y: c.Min.Y}, {X: hi, Y: c.Max.Y}, {X: lo, Y: c.Max.Y}})
	}
	at := x(b.At)
	if at == c.Min.X {
		return // it began before the picture does
	}
	c.StrokeLine2(draw.LineStyle{Color: Strong, Width: 1}, at, c.Min.Y, at, c.Max.Y)
}

// across turns a time into a place, held inside the frame.
func (s Span) across(c draw.Canvas, p *plot.Plot) func(time.Time) vg.Length {
	trX, _ := p.Transforms(&c)
	return func(t time.Time) vg.Length { return min(max(trX(unix(t)), c.Min.X), c.Max.X) }
}

// beganWords stands above the frame, where no mark can cross it.
type beganWords struct {
	Span
	label
}

func (b beganWords) Plot(c draw.Canvas, p *plot.Plot) {
	if b.At.IsZero() {
		return
	}
	at := b.across(c, p)(b.At)
	align := text.XLeft
	if at > (c.Min.X+c.Max.X)/2 {
		align = text.XRight
	}
	b.write(c, vg.Point{X: at, Y: c.Max.Y + 3}, align, Strong)
}

// level is a fixed line with its words near the left end, beside those of the usual
// range: what crossed it lately is at the right.
type level struct {
	Level
	size float64
}

func (l level) Plot(c draw.Canvas, p *plot.Plot) {
	_, trY := p.Transforms(&c)
	y := trY(l.Value)
	c.StrokeLine2(draw.LineStyle{Color: Strong, Width: 1, Dashes: []vg.Length{1, 3}}, c.Min.X, y, c.Max.X, y)
	label{l.Words, l.size}.write(c, vg.Point{X: c.Min.X + 4 + vg.Length(4*l.size), Y: y + 3}, text.XLeft, Text)
}

// gap is how far apart two points of a level may be and still be joined.
const gap = 21 * 24 * time.Hour

// pieces cuts pts at gaps, and thins each piece to about one point a pixel.
func pieces(pts []home.TrendPoint, c draw.Canvas) [][]home.TrendPoint {
	keep := max(1, len(pts)/max(1, int(c.Max.X-c.Min.X)))
	var out [][]home.TrendPoint
	start := 0
	for i := range pts {
		if i+1 < len(pts) && pts[i+1].Time.Sub(pts[i].Time) <= gap {
			continue
		}
		var piece []home.TrendPoint
		for j := start; j <= i; j++ {
			if (j-start)%keep == 0 || j == i {
				piece = append(piece, pts[j])
			}
		}
		out = append(out, piece)
		start = i + 1
	}
	return out
}

// band is the interval around the level.
type band []home.TrendPoint

func (b band) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	for _, piece := range pieces(inside(b, p), c) {
		var pts []vg.Point
		for _, t := range piece {
			pts = append(pts, vg.Point{X: trX(unix(t.Time)), Y: trY(t.Hi)})
		}
		for i := len(piece) - 1; i >= 0; i-- {
			pts = append(pts, vg.Point{X: trX(unix(piece[i].Time)), Y: trY(piece[i].Lo)})
		}
		c.FillPolygon(Band, pts)
	}
}

// line is the level itself.
type line []home.TrendPoint

func (l line) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	for _, piece := range pieces(inside(l, p), c) {
		var pts []vg.Point
		for _, t := range piece {
			pts = append(pts, vg.Point{X: trX(unix(t.Time)), Y: trY(t.Value)})
		}
		if len(pts) == 1 {
			pts = append(pts, pts[0])
		}
		c.StrokeLines(draw.LineStyle{Color: Accent, Width: 2.2}, pts)
	}
}

// inside leaves out the points before and after the picture.
func inside(pts []home.TrendPoint, p *plot.Plot) []home.TrendPoint {
	var in []home.TrendPoint
	for _, t := range pts {
		if x := unix(t.Time); x >= p.X.Min && x <= p.X.Max {
			in = append(in, t)
		}
	}
	return in
}
