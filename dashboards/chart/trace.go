package chart

import (
	"io"
	"math"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Trace is the load of a scale around one event, in the unit it is shown in. Its
// time runs in seconds from the beginning of the event.
type Trace struct {
	Title, Desc string
	Unit        string
	From, To    time.Time // of the picture
	Start, End  time.Time // of the event
	Marks       []Mark    // in time order; each stands until the next
	Levels      []Level
}

// SVG writes t as a document of its own.
func (t Trace) SVG(w io.Writer, s Size) error {
	return document(w, s, t.Title, t.Desc, func(c draw.Canvas) {
		c.SetColor(Paper)
		c.Fill(c.Rectangle.Path())
		t.plot(s).Draw(draw.Crop(c, 0, -8, 0, -4))
	})
}

func (t Trace) plot(s Size) *plot.Plot {
	pl := plot.New()
	pl.BackgroundColor = nil
	frame := Range{math.Inf(1), math.Inf(-1)}
	for _, m := range t.Marks {
		frame.Lo, frame.Hi = math.Min(frame.Lo, m.Value), math.Max(frame.Hi, m.Value)
	}
	for _, l := range t.Levels {
		frame.Lo, frame.Hi = math.Min(frame.Lo, l.Value), math.Max(frame.Hi, l.Value)
	}
	frame = frame.padded(0.1)
	Picture{From: t.From, To: t.To, Unit: t.Unit}.axes(pl, s, frame)
	span := Range{t.From.Sub(t.Start).Seconds(), t.To.Sub(t.Start).Seconds()}
	pl.X.Tick.Marker = plot.ConstantTicks(valueTicks(span, int(s.W/(6*s.Words)), "s"))
	pl.Add(grid{}, happened{0, t.End.Sub(t.Start).Seconds()})
	for _, l := range t.Levels {
		pl.Add(level{l, s.Words})
	}
	pl.Add(steps{t})
	pl.X.Min, pl.X.Max = span.Lo, span.Hi
	pl.Y.Min, pl.Y.Max = frame.Lo, frame.Hi
	return pl
}

// happened shades the time of the event.
type happened struct{ from, to float64 }

func (h happened) Plot(c draw.Canvas, p *plot.Plot) {
	trX, _ := p.Transforms(&c)
	lo, hi := max(trX(h.from), c.Min.X), min(max(trX(h.to), trX(h.from)+1), c.Max.X)
	c.FillPolygon(Onset, []vg.Point{{X: lo, Y: c.Min.Y}, {X: hi, Y: c.Min.Y}, {X: hi, Y: c.Max.Y}, {X: lo, Y: c.Max.Y}})
}

// steps draws the load as it was sent: each value holds until the next. Within a
// point of width only the first, the least, the most and the last are drawn.
type steps struct{ Trace }

func (t steps) Plot(c draw.Canvas, p *plot.Plot) {
	trX, trY := p.Transforms(&c)
	var pts []vg.Point
	add := func(at vg.Point) {
		if n := len(pts); n > 0 && pts[n-1].Y != at.Y && pts[n-1].X != at.X {
			pts = append(pts, vg.Point{X: at.X, Y: pts[n-1].Y})
		}
		pts = append(pts, at)
	}
	for i := 0; i < len(t.Marks); {
		x := t.place(trX, c, i)
		lo, hi, j := i, i, i
		for ; j < len(t.Marks) && t.place(trX, c, j)-x < 1; j++ {
			if t.Marks[j].Value < t.Marks[lo].Value {
				lo = j
			}
			if t.Marks[j].Value > t.Marks[hi].Value {
				hi = j
			}
		}
		for _, k := range []int{i, min(lo, hi), max(lo, hi), j - 1} {
			add(vg.Point{X: t.place(trX, c, k), Y: trY(t.Marks[k].Value)})
		}
		i = j
	}
	if n := len(pts); n > 0 {
		pts = append(pts, vg.Point{X: c.Max.X, Y: pts[n-1].Y})
		c.StrokeLines(draw.LineStyle{Color: Accent, Width: 1.4}, pts)
	}
}

// place is where a mark stands, held inside the picture.
func (t steps) place(trX func(float64) vg.Length, c draw.Canvas, i int) vg.Length {
	return min(max(trX(t.Marks[i].Time.Sub(t.Start).Seconds()), c.Min.X), c.Max.X)
}
