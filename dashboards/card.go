package dashboards

import (
	"context"
	"slices"
	"strings"
	"time"
	"weighbeam/home"
)

// staleAfter is when a weight is shown as one of the past: a cat can have lost a
// tenth meanwhile.
const staleAfter = 28 * 24 * time.Hour

// catCard is a cat on the house page.
type catCard struct {
	ID, Name, About string
	Urgency         home.Urgency
	Open            []findingLine
	Weight          figure
	Month, Year     figure
	Asleep          figure
	Habits          habits
	LastKg          string
	LastCheck       string
	Unknown         []string
	Drawn           thumbnail
	Stale           bool   // the weight is of longer ago than what is called now
	Quiet           string // what to say where nothing is open
}

type findingLine struct {
	ID      string
	Urgency home.Urgency
	Deed    string // what to do, in words
	Sign    home.Sign
	Text    string
}

func lineOf(f home.Finding) findingLine {
	return findingLine{f.ID(), f.Urgency, deed(f), f.Sign, f.Text}
}

func (p *pages) card(ctx context.Context, h home.Household, c home.Cat, open []home.Finding, now time.Time) (catCard, error) {
	o := p.look.Outlook(c.ID)
	card := catCard{
		ID: c.ID, Name: c.Name, About: about(c, now),
		Weight: p.say.weightFigure(o.Weight), Month: changeFigure(o.Month), Year: changeFigure(o.Year),
		Asleep: breathFigure(o.Asleep), LastKg: ago(now, o.LastKg), Unknown: o.Unknown,
	}
	card.Stale = !o.LastKg.IsZero() && now.Sub(o.LastKg) > staleAfter
	card.Open, card.Quiet = linesFor(open, c.ID), quietWords(o)
	card.Drawn = thumbnailOf(card.Open, !o.LastKg.IsZero(), card.Asleep.Known)
	if len(card.Open) > 0 {
		card.Urgency = card.Open[0].Urgency
	}
	var err error
	if card.Habits, err = p.habits(ctx, h, c, now); err != nil {
		return card, err
	}
	checks, err := p.store.Checks(ctx, c.ID, now.AddDate(-1, 0, 0), now.Add(time.Hour))
	if err != nil {
		return card, err
	}
	card.LastCheck = "none within a year"
	if len(checks) > 0 {
		card.LastCheck = ago(now, checks[0].Time)
	}
	return card, nil
}

// thumbnail is the small picture of a cat: the series of that name, in words.
type thumbnail struct{ Name, Words string }

// thumbnailOf is the picture of what is most urgent, or else of what there is.
func thumbnailOf(open []findingLine, weighed, counted bool) thumbnail {
	of := ""
	for _, f := range open {
		if of = seriesOf(f.Sign); of != "" {
			break
		}
	}
	switch {
	case of == "breaths", of == "" && !weighed && counted:
		return thumbnail{"breaths", "Breaths asleep"}
	case of == "weight", weighed:
		return thumbnail{"weight", "Weight"}
	}
	return thumbnail{}
}

// linesFor lists the open findings of a cat, the most urgent first.
func linesFor(open []home.Finding, cat string) []findingLine {
	var lines []findingLine
	for _, f := range open {
		if f.Cat == cat {
			lines = append(lines, lineOf(f))
		}
	}
	slices.SortStableFunc(lines, func(a, b findingLine) int { return b.Urgency.Rank() - a.Urgency.Rank() })
	return lines
}

func about(c home.Cat, now time.Time) string {
	var parts []string
	if c.Sex != "" {
		parts = append(parts, c.Sex)
	}
	if a := age(c, now); a != "" {
		parts = append(parts, a)
	}
	return strings.Join(parts, ", ")
}
