package dashboards

import (
	"fmt"
	"html/template"
	"strings"

	"weighbeam/dashboards/sheet"
)

// chartAt is where a page finds a chart: inside a file of its own, or at its address.
func chartAt(data any, address string) template.URL {
	if file, ok := data.(looseView); ok {
		return file.Images[address]
	}
	return template.URL(address) // made here, of slugs and dates
}

// outline draws the body outline with the numbers of the lumps.
func outline(lumps []sheet.Lump) template.HTML {
	const wide, high = 100.0, 200.0
	var b strings.Builder
	b.WriteString(`<svg class="outline" viewBox="0 0 100 200" width="100" height="200" role="img" aria-label="Where the lumps are, seen from above, nose at the top"><g class="body">`)
	for _, part := range sheet.Body() {
		b.WriteString(`<path d="M`)
		for _, p := range part {
			fmt.Fprintf(&b, "%.1f %.1f ", p[0]*wide, p[1]*high)
		}
		b.WriteString(`Z"/>`)
	}
	b.WriteString("</g>")
	for _, l := range lumps {
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="8"/><text x="%.1f" y="%.1f">%d</text>`, l.X*wide, l.Y*high, l.X*wide, l.Y*high+4, l.Number)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String()) // numbers only
}
