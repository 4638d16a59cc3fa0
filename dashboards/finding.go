package dashboards

import (
	"context"
	"errors"
	"net/http"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

type findingView struct {
	home.Finding
	ID       string
	Name     string // of the cat, or the id of the scale
	Link     string
	Facts    []fact
	Evidence []chartView
	Notices  []toldRow
	Mind     string
	Deed     string
	Answers  bool // people can answer
	Said     []home.Reaction
}

// toldRow is a notice with every decision about it; none where there was only
// the one that it carries.
type toldRow struct {
	noticeRow
	Steps []home.NoticeStep
}

// fact is one line of what is known of a finding.
type fact = sheet.Fact

func (p *pages) finding(r *http.Request) (view, error) {
	ctx := r.Context()
	f, err := p.store.Finding(ctx, r.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	v := findingView{Finding: f, ID: f.ID(), Name: f.Source, Link: "/sources/" + f.Source, Facts: p.facts(f), Mind: mindWords(f.Sign), Deed: deed(f)}
	if channel, ok := home.ChannelOf(f); ok {
		v.Name, v.Link = channel, "/notices"
	}
	if f.Cat != "" {
		v.Name, v.Link = f.Cat, "/cats/"+f.Cat
		if v.Evidence, err = p.evidence(ctx, f, &v.Name); err != nil {
			return view{}, err
		}
	}
	if v.Notices, err = p.told(ctx, f.ID()); err != nil {
		return view{}, err
	}
	if p.opts.Reactions != nil {
		v.Answers = true
		if v.Said, err = p.opts.Reactions(ctx, f.ID()); err != nil {
			return view{}, err
		}
	}
	return view{"finding.html", signWords(f.Sign) + ": " + v.Name, v}, nil
}

// told lists the notices about a finding with what was decided about each.
func (p *pages) told(ctx context.Context, finding string) ([]toldRow, error) {
	notices, err := p.store.Notices(ctx, finding)
	if err != nil {
		return nil, err
	}
	decided := map[string][]home.NoticeStep{}
	if p.opts.Steps != nil {
		steps, err := p.opts.Steps(ctx, finding)
		if err != nil {
			return nil, err
		}
		for _, s := range steps {
			decided[s.Notice] = append(decided[s.Notice], s)
		}
	}
	var rows []toldRow
	for _, n := range noticeRows(notices) {
		one := toldRow{noticeRow: n}
		if steps := decided[n.ID]; len(steps) > 1 {
			one.Steps = steps
		}
		rows = append(rows, one)
	}
	return rows, nil
}

// facts lists when, how fast and how sure, leaving out what has no meaning for
// this finding.
func (p *pages) facts(f home.Finding) []fact {
	var out []fact
	add := func(name, value, between string) {
		out = append(out, fact{Name: name, Value: value, Interval: between})
	}
	if !f.Onset.IsZero() {
		first, last := p.say.date(f.OnsetLo), p.say.date(f.OnsetHi)
		if first == last {
			add("Began", p.say.date(f.Onset), "")
		} else {
			add("Began", "about "+p.say.date(f.Onset), first+" to "+last)
		}
	}
	if f.RateUnit != "" {
		add("Pace", signed(f.Rate, 2)+" "+rateWords(f.RateUnit), signed(f.RateLo, 2)+" to "+signed(f.RateHi, 2))
	}
	if f.ChangePct != 0 {
		add("Change since it began", signed(f.ChangePct, 1)+" %", "")
	}
	if f.Before != 0 || f.After != 0 {
		add("Level", p.level(f.Before, f.LevelUnit)+" before, "+p.level(f.After, f.LevelUnit)+" "+p.asOf(f), "")
	}
	if f.Confidence > 0 && f.Sign != home.RedFlagSeen { // somebody saw it
		add("How sure", sureWords(f.Confidence), "")
	}
	if f.Data > 0 {
		add("Rests on", plural(f.Data, "reading"), "")
	}
	add("Found", p.say.clock(f.Raised), "")
	if !f.Updated.IsZero() && !f.Updated.Equal(f.Raised) {
		add("Figures last changed", p.say.clock(f.Updated), "")
	}
	if !f.Open() {
		add("Closed", p.say.clock(f.Closed), "")
	}
	return out
}

// asOf is when the figures of f hold: a finding is told anew only where they moved
// enough to matter, while the weight beside it is of today.
func (p *pages) asOf(f home.Finding) string {
	last := f.Updated
	if last.IsZero() {
		last = f.Raised
	}
	if p.opts.Now().Sub(last) < 24*time.Hour {
		return "now"
	}
	return "on " + p.say.date(last)
}

func (p *pages) level(v float64, unit string) string {
	if unit == "kg" {
		return p.say.mass(v)
	}
	return number(v, 1) + " " + unit
}

func rateWords(unit string) string {
	switch unit {
	case "%/week":
		return "% a week"
	case "1/min/week":
		return "breaths a minute, each week"
	}
	return unit
}

// sureWords never claims certainty that a number rounded to 100 would.
func sureWords(c float64) string {
	if c > 0.99 {
		return "over 99 %"
	}
	return number(100*c, 0) + " %"
}

// evidence is the chart that the finding is about, where there is one.
func (p *pages) evidence(ctx context.Context, f home.Finding, name *string) ([]chartView, error) {
	s, ok, err := p.about(ctx, f)
	if s.cat.Name != "" {
		*name = s.cat.Name
	}
	if err != nil || !ok {
		return nil, err
	}
	title := "Evidence: weight"
	if s.name == "breaths" {
		title = "Evidence: breaths asleep"
	}
	return []chartView{p.chartView(s, title)}, nil
}

// about is the series that the finding is about, from well before the change to
// after the finding was raised, or closed; ok is false where it is about none.
func (p *pages) about(ctx context.Context, f home.Finding) (s series, ok bool, err error) {
	h, c, err := p.findCat(ctx, f.Cat)
	if errors.Is(err, home.ErrNotFound) {
		return s, false, nil // the cat left the household; what was found of it stays
	}
	if err != nil {
		return s, false, err
	}
	from, to := f.Raised, p.opts.Now()
	if !f.Onset.IsZero() {
		from = earlier(f.Onset, f.OnsetLo)
	}
	if !f.Open() {
		to = earlier(f.Closed.AddDate(0, 1, 0), to)
	}
	per := period{From: from.AddDate(0, -2, 0), To: to}
	per.Words = p.say.date(per.From) + " to " + p.say.date(per.To)
	switch seriesOf(f.Sign) {
	case "weight":
		s, err = p.weight(ctx, h, c, per, f)
		return s, true, err
	case "breaths":
		s, err = p.breaths(ctx, h, c, per, f)
		return s, true, err
	}
	return series{cat: c}, false, nil
}

// seriesOf is the name of the series in which a sign is seen, "" for none.
func seriesOf(s home.Sign) string {
	switch s {
	case home.WeightFalling, home.WeightRising, home.WeightLow:
		return "weight"
	case home.BreathingRising, home.BreathingHigh:
		return "breaths"
	}
	return ""
}
