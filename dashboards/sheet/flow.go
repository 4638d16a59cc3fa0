package sheet

import (
	"fmt"
	"math"
	"strconv"

	"weighbeam/dashboards/chart"
)

// flow fills the frames of a setting from top to bottom.
type flow struct {
	*setting
	columns bool // beyond the first page, two columns
	second  bool // of the two
	x, y, w float64
}

const gutter = 18

// next goes to the next frame; on the first page there is only one.
func (f *flow) next(first bool) {
	f.y = margin
	if !first && f.columns && !f.second {
		f.second = true
		f.x += f.w + gutter
		return
	}
	f.doc.AddPage()
	f.x, f.w, f.second = margin, f.paper.W-2*margin, false
	if f.columns = !first; f.columns {
		f.w = (f.w - gutter) / 2
	}
}

// room makes sure that h fits, or goes to the next frame.
func (f *flow) room(h float64) {
	if f.y+h > f.bottom() && f.y > margin {
		f.next(false)
	}
}

func (f *flow) section(s Section) {
	f.room(8 * f.size) // a heading never stands alone
	f.y += .55 * f.size
	f.y += f.lines(f.x, f.y, f.w, serif, "B", 1.25*f.size, s.Heading)
	f.rule(f.x, f.y+.5, f.w, .4)
	f.y += .35 * f.size
	f.reasons(s.Reasons)
	f.facts(s.Facts)
	for _, p := range s.Text {
		f.words(0, p)
	}
	f.chart(s.Chart)
	f.lumps(s.Lumps)
	f.table(s.Table)
	f.list(s.List, s.Older)
	for _, p := range s.Points {
		f.point("•", p)
	}
}

// words sets a paragraph, line by line, so that it may go on in the next frame.
func (f *flow) words(indent float64, text string) {
	for _, l := range f.wrapped(f.w-indent, chart.Face, "", f.size, text) {
		f.room(leading * f.size)
		f.doc.SetFont(chart.Face, "", f.size)
		f.put(f.x+indent, f.y, f.size, l)
		f.y += leading * f.size
	}
	f.y += .15 * f.size
}

// point sets a paragraph behind a mark.
func (f *flow) point(mark, text string) {
	f.room(leading * f.size)
	f.doc.SetFont(chart.Face, "", f.size)
	f.put(f.x, f.y, f.size, printable(mark))
	f.words(1.1*f.size, text)
}

func (f *flow) reasons(rs []Reason) {
	for _, r := range rs {
		f.room(4 * f.size)
		f.y += f.lines(f.x, f.y, f.w, chart.Face, "B", 1.05*f.size, r.Sign+". "+r.Deed+".")
		f.words(0, r.Text)
		f.facts(r.Facts)
	}
}

// facts stand side by side, as many as fit: the name, the figure, its interval.
func (f *flow) facts(facts []Fact) {
	if len(facts) == 0 {
		return
	}
	n := min(len(facts), max(1, int(f.w/(11*f.size))))
	w := f.w / float64(n)
	for start := 0; start < len(facts); start += n {
		row := facts[start:min(start+n, len(facts))]
		f.room(3.6 * f.size)
		high := 0.0
		for i, fact := range row {
			high = math.Max(high, f.fact(f.x+float64(i)*w, w-6, fact))
		}
		f.y += high + .3*f.size
	}
}

func (f *flow) fact(x, w float64, fact Fact) float64 {
	h := f.lines(x, f.y, w, chart.Face, "", .85*f.size, fact.Name)
	value := fact.Value
	if value == "" {
		value = "not known"
	}
	h += f.lines(x, f.y+h, w, chart.Face, "B", f.size, value)
	if fact.Interval != "" {
		h += f.lines(x, f.y+h, w, chart.Face, "", .85*f.size, fact.Interval)
	}
	return h
}

func (f *flow) chart(c *Chart) {
	if c == nil {
		return
	}
	high := f.high
	if f.columns {
		high = 100
	}
	f.room(high + 3*f.size)
	c.Picture.OnPage(f.doc, f.x, f.y, chart.Size{W: f.w, H: high, Words: .85 * f.size, Plain: true})
	f.y += high + 2
	legend := ""
	for i, k := range c.Legend {
		if i > 0 {
			legend += " · "
		}
		legend += k.Glyph + " " + k.Words
	}
	f.y += f.lines(f.x, f.y, f.w, chart.Face, "", .85*f.size, legend) + .3*f.size
}

func (f *flow) list(entries []Entry, older int) {
	for i, e := range entries {
		if i == f.most {
			break
		}
		f.point("•", e.Day+": "+e.Words)
	}
	if older += len(entries) - min(len(entries), f.most); older > 0 {
		f.words(0, fmt.Sprintf("%d more are not on paper; the readings file holds them.", older))
	}
}

func (f *flow) lumps(ls []Lump) {
	if len(ls) == 0 {
		return
	}
	const wide, high = 62, 124
	f.room(high + 4)
	top, x := f.y, f.x
	f.outline(x, top, wide, high, ls)
	f.x, f.w = x+wide+10, f.w-wide-10
	for _, l := range ls {
		f.words(0, strconv.Itoa(l.Number)+". "+l.Words)
	}
	f.x, f.w = f.x-wide-10, f.w+wide+10
	if f.x == x {
		f.y = math.Max(f.y, top+high+4)
	}
}
