package dashboards

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// seen is what people looked at: each part as it was last, and as it was when it
// last was otherwise.
func (g *gathering) seen() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Scores and looks"}
	if err := g.checked(); err != nil {
		return sec, err
	}
	t := &sheet.Table{Name: "What was seen", Head: []string{"Part", "Last", "On", "Before", "On"}, Text: []int{1, 2, 3, 4}}
	var usual []string
	for _, part := range home.Parts() {
		if slices.Contains(home.FaceParts(), part) {
			continue // told as one sum below
		}
		for _, side := range []home.Side{"", home.Left, home.Right} {
			last, before := g.lastOf(part, side)
			switch {
			case last.Day == "":
			case last.Words == usualWords && before.Words == "":
				usual = append(usual, sided(part.Words(), side))
			default:
				t.Rows = append(t.Rows, []string{sided(part.Words(), side), last.Words, last.Day, before.Words, before.Day})
			}
		}
	}
	if face := g.painFace(); face != "" {
		sec.Points = []string{face}
	}
	if len(usual) > 0 {
		sec.Text = []string{"Looked at and as always: " + joined(usual) + "."}
	}
	if len(t.Rows) > 0 {
		sec.Table = t
	}
	if len(usual)+len(t.Rows)+len(sec.Points) == 0 {
		g.absent = append(g.absent, "body and muscle condition and other looks")
		return sheet.Section{}, nil
	}
	return sec, nil
}

const usualWords = "as usual"

func sided(words string, s home.Side) string {
	if s != "" {
		words += ", " + string(s)
	}
	return words
}

// lastOf is how a part was last, and how it was when it last was otherwise.
func (g *gathering) lastOf(part home.Part, side home.Side) (last, before sheet.Entry) {
	for _, c := range g.checks {
		s, ok := c.Of(part, side)
		if !ok {
			continue
		}
		_, words, _ := strings.Cut(s.Words(), ": ")
		switch {
		case last.Day == "":
			last = g.entry(c.Time, words)
		case words != last.Words:
			return last, g.entry(c.Time, words)
		}
	}
	return last, before
}

// painFace is the newest sum of the five features with the highest it could be.
func (g *gathering) painFace() string {
	for _, c := range g.checks {
		if sum, most := home.PainFace(c.Seen); most > 0 {
			return fmt.Sprintf("Pain face on %s: %.0f of %.0f points that could be scored, a share of %.2f; over 0.39 is likely pain (Evangelista et al. 2019).",
				g.say.date(c.Time), sum, most, sum/most)
		}
	}
	return ""
}

// lumps are the lumps as they were last, with what they were at first.
func (g *gathering) lumps() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Lumps"}
	if err := g.checked(); err != nil {
		return sec, err
	}
	for _, story := range g.lumpStories() {
		n := len(sec.Lumps) + 1
		x, y := lumpAt(story[0].lump)
		sec.Lumps = append(sec.Lumps, sheet.Lump{Number: n, X: x, Y: y, Words: g.lumpWords(story)})
	}
	if len(sec.Lumps) == 0 {
		g.absent = append(g.absent, "lumps")
		return sheet.Section{}, nil
	}
	sec.Points = []string{"Sizes are as a person at home measured them."}
	return sec, nil
}

// lumpSeen is a lump at one check.
type lumpSeen struct {
	at   time.Time
	lump home.Lump
}

// lumpStories are the lumps of the period, each with how it was, newest first.
func (g *gathering) lumpStories() [][]lumpSeen {
	var ids []string
	stories := map[string][]lumpSeen{}
	for _, c := range g.checks {
		for _, l := range c.Lumps {
			if !slices.Contains(ids, l.ID) {
				ids = append(ids, l.ID)
			}
			stories[l.ID] = append(stories[l.ID], lumpSeen{c.Time, l})
		}
	}
	var out [][]lumpSeen
	for _, id := range ids {
		out = append(out, stories[id])
	}
	return out
}

func (g *gathering) lumpWords(story []lumpSeen) string {
	last, first := story[0], story[len(story)-1]
	l := last.lump
	words := upperFirst(sided(l.Place.Words(), l.Side)) + ": " + lumpSize(l) + " on " + g.say.date(last.at)
	if len(story) > 1 {
		words += "; " + lumpSize(first.lump) + " on " + g.say.date(first.at)
	}
	if !l.FirstSeen.IsZero() {
		words += "; first seen " + l.FirstSeen.Format("2 Jan 2006")
	}
	if note := strings.TrimSpace(l.Note); note != "" {
		words += "; " + shortened(note)
	}
	return words + "."
}

func lumpSize(l home.Lump) string {
	if l.Gone {
		return "not there any more"
	}
	var mm []string
	for _, v := range []float64{l.LengthMm, l.WidthMm, l.HeightMm} {
		if v > 0 {
			mm = append(mm, number(v, 0))
		}
	}
	if len(mm) == 0 {
		return "not measured"
	}
	return strings.Join(mm, " × ") + " mm"
}

// lumpAt is the place of a lump on the outline: seen from above, nose at the top.
func lumpAt(l home.Lump) (x, y float64) {
	at := map[home.Place]struct{ out, y float64 }{ // out: from the middle line
		home.AtFace: {0, .09}, home.AtMouth: {.03, .06}, home.AtEar: {.1, .055}, home.AtNeck: {.04, .225}, home.AtShoulder: {.11, .3},
		home.AtForeleg: {.26, .365}, home.AtChest: {.15, .37}, home.AtBack: {.02, .47}, home.AtFlank: {.16, .54}, home.AtBelly: {.12, .6},
		home.AtMammary: {.1, .5}, home.AtHip: {.12, .67}, home.AtHindLeg: {.28, .7}, home.AtTail: {0, .87}, home.AtTailRoot: {0, .745},
	}[l.Place]
	switch l.Side {
	case home.Left:
		return .5 - max(at.out, .06), at.y
	case home.Right:
		return .5 + max(at.out, .06), at.y
	}
	if l.Place == home.AtTail {
		return .57, at.y
	}
	return .5, at.y
}
