package dashboards

import (
	"context"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// sheetView is the sheet for the practice on a page.
type sheetView struct {
	sheet.Sheet
	From, To string       // dates, as the form has them
	Wrong    string       // why these are not the days asked for; "" where they are
	Query    template.URL // that asks for the same dates again
}

func (p *pages) sheet(r *http.Request) (view, error) {
	s, per, err := p.sheetOf(r.Context(), r.PathValue("id"), r.URL.Query())
	if err != nil {
		return view{}, err
	}
	v := sheetView{Sheet: s, Wrong: per.wrong, From: per.From.Format(time.DateOnly), To: per.last().Format(time.DateOnly), Query: template.URL(per.query())} // made of dates and keys of ours alone
	return view{"sheet.html", s.Name + ": sheet for the practice", v}, nil
}

// sheetPeriod is what a sheet covers: the dates asked for in either order, or the last
// year where none are, or none that can be.
func (p *pages) sheetPeriod(q url.Values) period {
	now := p.opts.Now().In(p.opts.Zone)
	per := period{From: midnight(now.AddDate(-1, 0, 0)), To: now}
	first, errFirst := p.asked(q.Get("from"), per.From)
	last, errLast := p.asked(q.Get("to"), now)
	if last.Before(first) && q.Get("from") != "" && q.Get("to") != "" {
		first, last = last, first
	}
	switch {
	case errFirst != nil || errLast != nil:
		per.wrong = "A date is missing or is none: dates are written as 2026-03-28."
	case first.After(now):
		per.wrong = "Those days have not been yet."
	default:
		per.From, per.To = first, earlier(last.AddDate(0, 0, 1), now)
	}
	if !per.From.Before(per.To) { // only an end was asked for, more than a year ago
		per.From = midnight(per.To.AddDate(-1, 0, 0))
	}
	if per.wrong != "" {
		per.wrong += " This is the last year instead."
	}
	per.Words = p.say.date(per.From) + " to " + p.say.date(per.last())
	return per
}

// asked is the date in text, or usual where there is none.
func (p *pages) asked(text string, usual time.Time) (time.Time, error) {
	if text == "" {
		return usual, nil
	}
	return time.ParseInLocation(time.DateOnly, text, p.opts.Zone)
}

// last is the last moment of the period.
func (p period) last() time.Time { return p.To.Add(-time.Second) }

// sheetOf gathers the sheet of a cat.
func (p *pages) sheetOf(ctx context.Context, id string, q url.Values) (sheet.Sheet, period, error) {
	per := p.sheetPeriod(q)
	h, c, err := p.findCat(ctx, id)
	if err != nil {
		return sheet.Sheet{}, per, err
	}
	now := p.opts.Now()
	s := sheet.Sheet{CatID: c.ID, Name: c.Name, About: who(c, now), Period: per.Words, Made: now, MadeOn: p.say.clock(now), Caution: home.Caution}
	g := p.gather(ctx, h, c, per)
	g.look, g.trend = p.look.Outlook(c.ID), p.look.Trend(c.ID)
	if g.care, err = p.store.Care(ctx, c.ID, per.From, per.To.Add(time.Second)); err != nil {
		return s, per, err
	}
	why, err := g.why()
	if err != nil {
		return s, per, err
	}
	s.Sections = []sheet.Section{why}
	mains := []func() (sheet.Section, error){g.weighed, g.breathing}
	if g.breathes { // what it is about has the page that is read
		slices.Reverse(mains)
	}
	for i, part := range append(mains,
		g.heart, g.eating, g.litter, g.flags, g.seen, g.lumps, g.fed, g.happened, g.notes, g.unknown, g.how,
	) {
		sec, err := part()
		if err != nil {
			return s, per, err
		}
		sec.Second = i == 1
		if sec.Heading != "" {
			s.Sections = append(s.Sections, sec)
		}
	}
	return s, per, nil
}

// gathering is what the sections of one sheet are made from.
type gathering struct {
	*pages
	ctx      context.Context
	house    home.Household
	cat      home.Cat
	per      period
	look     home.Outlook
	trend    []home.TrendPoint
	readings []home.Reading   // weighings of the period
	checks   []home.HomeCheck // newest first
	care     []home.Care      // oldest first
	came     *[]home.Visit    // read once
	absent   []string         // what was not measured
	breathes bool             // the gravest reason is how the cat breathes
}

// who is whose sheet it is, besides the name.
func who(c home.Cat, now time.Time) string {
	words := about(c, now)
	add := func(s string) {
		if words != "" {
			words += ", "
		}
		words += s
	}
	if c.Neutered {
		add("neutered")
	}
	if !c.Born.IsZero() && !c.BornYear {
		add("born " + c.Born.Format("2 Jan 2006"))
	}
	if c.Chip != "" {
		add("chip " + c.Chip)
	}
	if words == "" {
		return "Nothing else is written down of this cat."
	}
	return upperFirst(words) + "."
}

// why lists what is open, or was raised in a period that ended before.
func (g *gathering) why() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Why this sheet"}
	all, err := g.store.Findings(g.ctx, false, g.per.From)
	if err != nil {
		return sec, err
	}
	all = slices.DeleteFunc(all, func(f home.Finding) bool {
		return f.Cat != g.cat.ID || f.Sign == home.CheckOverdue || !f.Open() && f.Closed.Before(g.per.last())
	})
	later := slices.ContainsFunc(all, func(f home.Finding) bool { return f.Open() && f.Raised.After(g.per.To) })
	all = slices.DeleteFunc(all, func(f home.Finding) bool { return f.Raised.After(g.per.To) })
	slices.SortStableFunc(all, func(a, b home.Finding) int { return b.Urgency.Rank() - a.Urgency.Rank() })
	g.breathes = len(all) > 0 && (all[0].Sign == home.BreathingRising || all[0].Sign == home.BreathingHigh)
	for _, f := range all {
		sec.Reasons = append(sec.Reasons, sheet.Reason{Sign: signWords(f.Sign), Deed: deed(f), Text: f.Text, Facts: g.facts(f)})
	}
	if len(all) == 0 {
		sec.Text = []string{"Nothing is open: no change was found that is both sure and large enough to matter. That is not the same as a healthy cat."}
	}
	if later {
		sec.Text = append(sec.Text, "Something was found after this period that still stands: a sheet up to today holds it.")
	}
	return sec, nil
}

// unknown says what was not measured and what is not known, so that no gap
// reads as good news.
func (g *gathering) unknown() (sheet.Section, error) {
	points := slices.Clone(g.look.Unknown)
	if len(g.absent) > 0 {
		points = append(points, "Not measured in this period: "+joined(g.absent)+".")
	}
	if len(points) == 0 {
		return sheet.Section{}, nil
	}
	return sheet.Section{Heading: "Not known, not measured", Points: points}, nil
}

func (g *gathering) how() (sheet.Section, error) {
	points := howTaken(g.readings)
	corrected, err := g.corrected()
	if err != nil {
		return sheet.Section{}, err
	}
	points = append(points, corrected...)
	return sheet.Section{Heading: "How the figures were taken", Points: append(points,
		"Counts are what a person counted over the stated seconds; the rate is worked out from them. One breath miscounted in 15 s moves the rate by 4 a minute, in 30 s by 2.",
		"Intervals hold the truth with 90 % certainty, as far as the model is right. A weighing holds what the cat has eaten and drunk, and what it has not yet left behind.",
	)}, nil
}

func joined(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		out := words[0]
		for _, w := range words[1 : n-1] {
			out += ", " + w
		}
		return out + " and " + words[n-1]
	}
}
