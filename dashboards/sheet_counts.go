package dashboards

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// breathing is breaths asleep with counts and windows; other states stand in
// the list only, since they are other variables.
func (g *gathering) breathing() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Breaths"}
	s, err := g.breaths(g.ctx, g.house, g.cat, g.per)
	if err != nil {
		return sec, err
	}
	if g.upToNow() {
		sec.Facts = []sheet.Fact{factOf("Usual while asleep", breathFigure(g.look.Asleep))}
	}
	if len(s.values) > 4 {
		sec.Chart = g.sheetChart(s)
	}
	counts, err := g.in(home.Breaths)
	if err != nil {
		return sec, err
	}
	sec.List, sec.Older = capped(g.entries(counts))
	if len(s.values) == 0 {
		g.absent = append(g.absent, "breaths asleep")
		sec.Text = []string{"None counted asleep in this period."}
	}
	return sec, nil
}

// in is the readings of one quantity in the period, in time order.
func (g *gathering) in(q home.Quantity) ([]home.Reading, error) {
	return g.store.Counts(g.ctx, g.cat.ID, q, g.per.From, g.per.To.Add(time.Second))
}

// entries lists readings, the newest first.
func (g *gathering) entries(rs []home.Reading) []sheet.Entry {
	var out []sheet.Entry
	for _, r := range slices.Backward(rs) {
		words := g.say.reading(r)
		if note := strings.TrimSpace(r.Note); note != "" {
			words += " (" + shortened(note) + ")"
		}
		out = append(out, g.entry(r.Time, words))
	}
	return out
}

// listed is how many entries of a list a sheet holds at most.
const listed = 14

// capped keeps the newest entries and counts the others.
func capped(all []sheet.Entry) ([]sheet.Entry, int) {
	n := min(len(all), listed)
	return all[:n], len(all) - n
}

func (g *gathering) entry(at time.Time, words string) sheet.Entry {
	return sheet.Entry{When: at, Day: g.say.date(at), Words: words}
}

// noteShown is how many letters of a note stand on the sheet.
const noteShown = 300

func shortened(note string) string {
	if r := []rune(note); len(r) > noteShown {
		return string(r[:noteShown]) + " … (longer)"
	}
	return note
}

// heart is heart beats and temperature, as they were measured.
func (g *gathering) heart() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Heart and temperature"}
	beats, err := g.in(home.Heartbeats)
	if err != nil {
		return sec, err
	}
	warm, err := g.in(home.Temperature)
	if err != nil {
		return sec, err
	}
	if len(beats) == 0 {
		g.absent = append(g.absent, "heart beats")
	}
	if len(warm) == 0 {
		g.absent = append(g.absent, "temperature")
	}
	if len(beats)+len(warm) == 0 {
		return sheet.Section{}, nil
	}
	all := append(slices.Clone(beats), warm...)
	slices.SortStableFunc(all, func(a, b home.Reading) int { return a.Time.Compare(b.Time) })
	sec.List, sec.Older = capped(g.entries(all))
	return sec, nil
}

// checked reads the home checks of the period once, newest first.
func (g *gathering) checked() (err error) {
	if g.checks == nil {
		g.checks, err = g.store.Checks(g.ctx, g.cat.ID, g.per.From, g.per.To.Add(time.Second))
	}
	return err
}

func (g *gathering) flags() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Red flags seen"}
	if err := g.checked(); err != nil {
		return sec, err
	}
	for _, c := range g.checks {
		for _, f := range c.RedFlags {
			sec.List = append(sec.List, g.entry(c.Time, f.Words()))
		}
	}
	switch {
	case len(g.checks) == 0:
		sec.Text = []string{"Nobody did a home check in this period."}
	case len(sec.List) == 0:
		sec.Text = []string{fmt.Sprintf("None was noted in %s.", plural(len(g.checks), "home check"))}
	}
	return sec, nil
}

func (g *gathering) notes() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Notes of the keeper"}
	if err := g.checked(); err != nil {
		return sec, err
	}
	for _, c := range g.checks {
		if note := strings.TrimSpace(c.Note); note != "" {
			e := g.entry(c.Time, shortened(note))
			e.Note = true
			sec.List = append(sec.List, e)
		}
	}
	sec.List, sec.Older = capped(sec.List)
	if len(sec.List) == 0 {
		return sheet.Section{}, nil
	}
	return sec, nil
}
