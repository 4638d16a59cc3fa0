package draw

import (
	"fmt"
	"html/template"
)

// Body is a cat from above at a body condition score of 1 to 9. The waist
// behind the ribs is what tells the scores apart: drawn in at 1, straight at 6, a
// bulge at 9 (in words: Laflamme 1997, Feline Pract 25(5-6)).
func Body(score int) template.HTML {
	fat := float64(score-1) / 8 // 0 to 1
	ribs, waist, hips := 12+8*fat, 5+18*fat, 9+10*fat
	const mid = 30.0
	side := func(sign float64) string {
		y := func(d float64) float64 { return mid + sign*d }
		return fmt.Sprintf("C40 %.1f 46 %.1f 56 %.1f S74 %.1f 84 %.1f S104 %.1f 112 %.1f", y(8), y(ribs), y(ribs), y(waist), y(waist), y(hips), y(4))
	}
	upper := fmt.Sprintf("M30 %.1f%s", mid-7, side(-1))
	lower := fmt.Sprintf("M30 %.1f%s", mid+7, side(1))
	return template.HTML(`<svg class="drawing" viewBox="0 0 150 60" width="100" height="40" aria-hidden="true">` + // numbers only
		`<g fill="none" stroke="currentColor" stroke-width="2"><ellipse cx="22" cy="30" rx="11" ry="10"/><path d="M14 23l-3-8 8 3M14 37l-3 8 8-3M112 30q18-14 34-4"/>` +
		`<path d="` + upper + `"/><path d="` + lower + `"/></g></svg>`)
}

// Muscle is a cut through the back at a muscle score, 0 for full to 3 for very
// little: the flesh beside the spine fills its angle, or falls below its edges
// (in words: the WSAVA muscle condition text).
func Muscle(loss int) template.HTML {
	top := 14 + 9*float64(loss) // where the flesh begins beside the spine
	flesh := fmt.Sprintf("M60 16C50 %.1f 34 %.1f 14 52M60 16C70 %.1f 86 %.1f 106 52", top, top+2, top, top+2)
	return template.HTML(`<svg class="drawing" viewBox="0 0 120 60" width="80" height="40" aria-hidden="true">` + // numbers only
		`<g fill="none" stroke="currentColor" stroke-width="2"><path d="M60 12v18M60 30l-18 6M60 30l18 6M54 36h12v8h-12z"/><path d="` + flesh + `"/></g></svg>`)
}
