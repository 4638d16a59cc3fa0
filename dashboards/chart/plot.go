package chart

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// plot lays p out. What is drawn later lies on top: ground first, then the
// marks, then what is concluded from them.
func (p Picture) plot(s Size) *plot.Plot {
	pl := plot.New()
	pl.BackgroundColor = nil
	frame := p.frame()
	p.axes(pl, s, frame)
	if s.Words > 0 {
		pl.Add(grid{})
	}
	pl.Add(began(p.Began), usual{p.Usual, words(p.UsualWords, s)})
	for _, l := range p.Levels {
		pl.Add(level{l, s.Words})
	}
	pl.Add(moments{p.Moments, s.Words}, pace(p.Pace), band(p.Line))
	for _, one := range p.Series {
		pl.Add(marks{one, frame, s.Words == 0})
	}
	pl.Add(line(p.Line))
	if s.Words > 0 {
		pl.Add(beganWords{p.Began, words(p.BeganWords, s)})
	}
	pl.X.Min, pl.X.Max = unix(p.From), unix(p.To)
	pl.Y.Min, pl.Y.Max = frame.Lo, frame.Hi
	return pl
}

// label is words at a size; none are drawn at size 0.
type label struct {
	text string
	size float64
}

func words(text string, s Size) label { return label{text, s.Words} }

func (p Picture) axes(pl *plot.Plot, s Size, frame Range) {
	for _, a := range []*plot.Axis{&pl.X, &pl.Y} {
		a.LineStyle.Width = 0
		a.Tick.LineStyle.Color = Rule
		a.Tick.Label.Color = Text
		a.Tick.Label.Font = face(s.Words)
		a.Padding = 0
	}
	pl.Y.Tick.Length, pl.Y.Padding = 0, 8
	pl.X.Tick.Length = 4
	pl.X.LineStyle.Width, pl.X.LineStyle.Color = 1, Faint
	if s.Words == 0 {
		pl.HideAxes()
		return
	}
	// A tick label needs about six letters of room, and as much of air.
	pl.X.Tick.Marker = plot.ConstantTicks(timeTicks(p.From, p.To, p.Zone, int(s.W/(6.5*s.Words))))
	pl.Y.Tick.Marker = plot.ConstantTicks(valueTicks(frame, max(3, int(s.H/40)), p.Unit))
}

func face(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(math.Max(size, 1))}
}

func style(size float64, ink Ink) text.Style {
	return text.Style{Color: ink, Font: face(size), Handler: plot.DefaultTextHandler}
}

// frame is the range of the y axis.
func (p Picture) frame() Range {
	f := Range{math.Inf(1), math.Inf(-1)}
	widen := func(v float64) { f.Lo, f.Hi = math.Min(f.Lo, v), math.Max(f.Hi, v) }
	var all []float64
	for _, s := range p.Series {
		for _, m := range s.Marks {
			all = append(all, m.Value)
		}
	}
	for _, v := range near(all) {
		widen(v)
	}
	for _, t := range p.Line {
		widen(t.Lo)
		widen(t.Hi)
	}
	for _, l := range p.Levels {
		widen(l.Value)
	}
	for _, m := range p.Pace {
		widen(m.Value)
	}
	if p.Usual != (Range{}) {
		widen(p.Usual.Lo)
		widen(p.Usual.Hi)
	}
	return f.padded(p.MinSpan)
}

// near leaves out the values beyond the outer fences, three times the middle
// half away from it (Tukey 1977, Exploratory Data Analysis, 2C), so that one
// stray reading does not flatten all others. It is pinned to the frame's edge.
func near(vs []float64) []float64 {
	if len(vs) == 0 {
		return nil
	}
	slices.Sort(vs)
	q1, q3 := stat.Quantile(0.25, stat.LinInterp, vs, nil), stat.Quantile(0.75, stat.LinInterp, vs, nil)
	fence := 3 * (q3 - q1)
	if fence == 0 {
		return vs // most are equal: the fences would shut the rest out
	}
	return slices.DeleteFunc(vs, func(v float64) bool { return v < q1-fence || v > q3+fence })
}

func (r Range) padded(least float64) Range {
	if r.Lo > r.Hi {
		return Range{0, math.Max(least, 1)}
	}
	span := math.Max(r.Hi-r.Lo, least)
	if span == 0 {
		span = 1
	}
	mid := (r.Lo + r.Hi) / 2
	return Range{mid - 0.56*span, mid + 0.56*span}
}
