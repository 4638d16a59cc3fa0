package sheet

import (
	"strings"

	"weighbeam/dashboards/chart"
)

// leading is the height of a line, in sizes of its type.
const leading = 1.3

// wrapped cuts text into lines of width w, in the letters that are printed.
func (t *setting) wrapped(w float64, family, style string, size float64, text string) []string {
	t.doc.SetFont(family, style, size)
	var lines []string
	line := ""
	for _, word := range strings.Fields(printable(text)) {
		for t.doc.GetStringWidth(word) > w { // one word longer than a line
			n := t.head(word, w)
			if line != "" {
				lines, line = append(lines, line), ""
			}
			lines, word = append(lines, word[:n]), word[n:]
		}
		switch {
		case line == "":
			line = word
		case t.doc.GetStringWidth(line+" "+word) <= w:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// head is how many bytes of a word fit into w, at least one letter.
func (t *setting) head(word string, w float64) int {
	n := 0
	for i, r := range word {
		end := i + len(string(r))
		if n > 0 && t.doc.GetStringWidth(word[:end]) > w {
			return n
		}
		n = end
	}
	return n
}

// lines sets text from (x, y) on and returns the height used.
func (t *setting) lines(x, y, w float64, family, style string, size float64, text string) float64 {
	ls := t.wrapped(w, family, style, size, text)
	for i, l := range ls {
		t.put(x, y+float64(i)*leading*size, size, l)
	}
	return float64(len(ls)) * leading * size
}

// put sets one line in the current font, its top at y.
func (t *setting) put(x, y, size float64, line string) {
	t.doc.SetTextColor(0, 0, 0)
	t.doc.Text(x, y+.95*size, visual(line))
}

// right sets one line that ends at x.
func (t *setting) right(x, y, size float64, text string) {
	t.doc.SetFont(chart.Face, "", size)
	line := printable(text)
	t.put(x-t.doc.GetStringWidth(line), y, size, line)
}

func (t *setting) rule(x, y, w, width float64) {
	t.doc.SetDrawColor(0, 0, 0)
	t.doc.SetDashPattern(nil, 0)
	t.doc.SetLineCapStyle("butt")
	t.doc.SetLineWidth(width)
	t.doc.Line(x, y, x+w, y)
}
