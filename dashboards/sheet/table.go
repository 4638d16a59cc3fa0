package sheet

import (
	"fmt"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"weighbeam/dashboards/chart"
)

// table sets rows of one line each; figures end at the right of their column.
func (f *flow) table(t *Table) {
	if t == nil || len(t.Rows) == 0 {
		return
	}
	if f.columns {
		t = t.short()
	}
	size := .92 * f.size
	widths := f.widths(*t, size)
	f.row(*t, t.Head, widths, size, "B")
	f.rule(f.x, f.y, f.w, .4)
	rows := t.Rows[:min(len(t.Rows), f.rows)]
	for _, r := range rows {
		f.row(*t, r, widths, size, "")
	}
	if left := len(t.Rows) - len(rows); left > 0 {
		f.words(0, fmt.Sprintf("%d older rows are not on paper.", left))
	}
	f.y += .3 * f.size
}

// short is t without the columns that only a table across the page has room for.
func (t *Table) short() *Table {
	cut := *t
	cut.Head, cut.Rows = t.Head[:len(t.Head)-t.Wide], make([][]string, len(t.Rows))
	for i, r := range t.Rows {
		cut.Rows[i] = r[:len(r)-t.Wide]
	}
	return &cut
}

// widths give each column what its longest entry takes, and spread the rest.
func (f *flow) widths(t Table, size float64) []float64 {
	widths := make([]float64, len(t.Head))
	sum := 0.0
	for i := range t.Head {
		f.doc.SetFont(chart.Face, "B", size)
		widths[i] = f.doc.GetStringWidth(printable(t.Head[i]))
		f.doc.SetFont(chart.Face, "", size)
		for _, r := range t.Rows {
			widths[i] = max(widths[i], f.doc.GetStringWidth(printable(r[i])))
		}
		sum += widths[i]
	}
	over := sum + 6*float64(len(widths)-1) - f.w
	if over <= 0 {
		for i := range widths[:len(widths)-1] {
			widths[i] += min(-over/float64(len(widths)-1), 22)
		}
		return widths
	}
	narrow(t, widths, over)
	return widths
}

// narrow takes over points from the widest columns of words, whose cells wrap.
func narrow(t Table, widths []float64, over float64) {
	const step, least = 1, 34
	for ; over > 0; over -= step {
		widest := -1
		for i, w := range widths {
			if t.Words(i) && w > least && (widest < 0 || w > widths[widest]) {
				widest = i
			}
		}
		if widest < 0 {
			return
		}
		widths[widest] -= step
	}
}

func (f *flow) row(t Table, cells []string, widths []float64, size float64, style string) {
	lines := make([][]string, len(cells))
	high := 1
	for i, cell := range cells {
		w := widths[i] + 1
		if !t.Words(i) {
			w = f.w // figures never wrap
		}
		lines[i] = f.wrapped(w, chart.Face, style, size, cell)
		high = max(high, len(lines[i]))
	}
	f.room(float64(high) * leading * size)
	x := f.x
	f.doc.SetFont(chart.Face, style, size)
	for i := range cells {
		for n, l := range lines[i] {
			left := x
			if !t.Words(i) {
				left += widths[i] - f.doc.GetStringWidth(l)
			}
			f.put(left, f.y+float64(n)*leading*size, size, l)
		}
		x += widths[i] + 6
	}
	f.y += float64(high) * leading * size
}

// outline draws a cat from above with the numbers of its lumps on it.
func (f *flow) outline(x, y, w, h float64, ls []Lump) {
	f.doc.SetDrawColor(0, 0, 0)
	f.doc.SetFillColor(255, 255, 255)
	f.doc.SetDashPattern(nil, 0)
	f.doc.SetLineWidth(.7)
	for _, part := range body {
		pts := make([]fpdf.PointType, len(part))
		for i, p := range part {
			pts[i] = fpdf.PointType{X: x + p[0]*w, Y: y + p[1]*h}
		}
		f.doc.Polygon(pts, "DF")
	}
	for _, l := range ls {
		cx, cy := x+l.X*w, y+l.Y*h
		f.doc.SetFillColor(0, 0, 0)
		f.doc.Circle(cx, cy, 5, "F")
		f.doc.SetFont(chart.Face, "B", 7)
		n := strconv.Itoa(l.Number)
		f.doc.SetTextColor(255, 255, 255)
		f.doc.Text(cx-f.doc.GetStringWidth(n)/2, cy+2.5, n)
	}
	f.doc.SetTextColor(0, 0, 0)
}
