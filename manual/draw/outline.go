package draw

import (
	"fmt"
	"html"
	"html/template"
	"slices"
	"strings"

	"weighbeam/home"
)

// spot is where a place lies on the outline, in its 320 by 190 units.
type spot struct {
	place home.Place
	x, y  int
}

// spots are the places on a cat that stands with its head to the left. Those on
// the far side and underneath are drawn where the eye looks for them.
var spots = []spot{
	{home.AtMouth, 27, 74}, {home.AtFace, 46, 55}, {home.AtEar, 62, 26}, {home.AtNeck, 86, 74},
	{home.AtShoulder, 112, 55}, {home.AtForeleg, 104, 146}, {home.AtChest, 122, 92}, {home.AtBack, 170, 55},
	{home.AtFlank, 170, 86}, {home.AtBelly, 150, 117}, {home.AtMammary, 192, 117}, {home.AtHip, 216, 66},
	{home.AtHindLeg, 226, 142}, {home.AtTailRoot, 250, 92}, {home.AtTail, 285, 42},
}

// Outline is a cat from its left side with a spot at each place. A spot carries the
// place in data-place, for script; without script the list of places under it says
// the same. name is read out in its stead. Places with a lump are marked.
func Outline(name string, marked []home.Place) template.HTML {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="outline" viewBox="0 0 320 190" role="img" aria-label="%s">`, html.EscapeString(name))
	b.WriteString(`<path fill="none" stroke="currentColor" stroke-width="2.5" stroke-linejoin="round" stroke-linecap="round" d="` +
		`M24 70C22 50 34 38 48 36L56 14L72 34C84 38 88 50 94 52C130 40 190 40 226 50C240 54 248 60 254 66C276 62 276 22 296 18C306 18 304 30 298 38C288 60 284 84 256 84` +
		`C252 104 240 112 238 122L244 172H228L218 128C196 122 160 126 128 118L120 172H104L100 118C88 106 84 96 78 88C60 96 30 92 24 70Z"/>`)
	for _, s := range spots {
		class, r := "spot", 7
		if slices.Contains(marked, s.place) {
			class, r = "spot marked", 9
		}
		fmt.Fprintf(&b, `<circle class="%s" data-place="%s" cx="%d" cy="%d" r="%d"/>`, class, s.place, s.x, s.y, r)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // the name is escaped; the rest is ours
}
