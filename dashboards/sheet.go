package dashboards

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// sheetView is two printed pages for the practice.
type sheetView struct {
	Cat      home.Cat
	About    string
	Made     time.Time
	Reasons  []sheetFinding
	Weight   figure
	Changes  []namedFigure
	Chart    chartView
	Breath   chartView
	Months   []monthRow
	Breaths  []checkLine
	Asleep   figure
	RedFlags []checkLine
	Notes    []checkLine
	Unknown  []string
	How      []string
}

type sheetFinding struct {
	Deed, Sign, Text string
	Facts            []fact
}

type namedFigure struct {
	Name   string
	Figure figure
}

type monthRow struct {
	tableRow
	Sources string
}

type checkLine struct {
	When time.Time
	Text string
}

// What fits on two pages.
const (
	sheetBreaths = 14
	sheetNotes   = 8
)

func (p *pages) sheet(r *http.Request) (view, error) {
	ctx, now := r.Context(), p.opts.Now()
	h, c, err := p.findCat(ctx, r.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	o := p.look.Outlook(c.ID)
	v := sheetView{Cat: c, About: about(c, now), Made: now, Weight: p.say.weightFigure(o.Weight), Asleep: breathFigure(o.Asleep), Unknown: o.Unknown}
	v.Changes = changes(o, p.look.Trend(c.ID))
	open, err := p.openOf(ctx, c.ID)
	if err != nil {
		return view{}, err
	}
	for _, f := range open {
		v.Reasons = append(v.Reasons, sheetFinding{deed(f), signWords(f.Sign), f.Text, p.facts(f)})
	}
	year := period{Words: "a year", From: now.AddDate(-1, 0, 0), To: now}
	weight, err := p.weight(ctx, h, c, year)
	if err != nil {
		return view{}, err
	}
	v.Chart, v.Months = p.chartView(weight, "Weight over a year"), months(weight, p.opts.Zone)
	if err := p.sheetCounts(ctx, h, c, &v); err != nil {
		return view{}, err
	}
	v.How = howTaken(weight.readings)
	return view{"sheet.html", c.Name + ": sheet for the practice", v}, nil
}

// sheetCounts gathers what people counted and saw.
func (p *pages) sheetCounts(ctx context.Context, h home.Household, c home.Cat, v *sheetView) error {
	now := p.opts.Now()
	breaths, err := p.breaths(ctx, h, c, period{Words: "a year", From: now.AddDate(-1, 0, 0), To: now})
	if err != nil {
		return err
	}
	v.Breath = p.chartView(breaths, "Breaths asleep over a year")
	counts, err := p.store.Counts(ctx, c.ID, home.Breaths, now.AddDate(-1, 0, 0), now.Add(time.Second))
	if err != nil {
		return err
	}
	for i := len(counts) - 1; i >= 0 && len(v.Breaths) < sheetBreaths; i-- {
		v.Breaths = append(v.Breaths, checkLine{counts[i].Time, p.say.reading(counts[i])})
	}
	checks, err := p.store.Checks(ctx, c.ID, now.AddDate(-1, 0, 0), now.Add(time.Second))
	if err != nil {
		return err
	}
	for _, check := range checks {
		for _, f := range check.RedFlags {
			v.RedFlags = append(v.RedFlags, checkLine{check.Time, f.Words()})
		}
		if note := strings.TrimSpace(check.Note); note != "" && len(v.Notes) < sheetNotes {
			v.Notes = append(v.Notes, checkLine{check.Time, note})
		}
	}
	return nil
}

// changes are of the smoothed weight over 1, 3, 6 and 12 months. The detector
// gives the first and the last. Those between are taken from the level and its
// band: the two bands are taken as independent, which makes the interval rather
// too wide, since errors close in time go the same way.
func changes(o home.Outlook, trend []home.TrendPoint) []namedFigure {
	return []namedFigure{
		{"4 weeks", changeFigure(o.Month)},
		{"3 months", changeFigure(changeOver(trend, o.AsOf, 91))},
		{"6 months", changeFigure(changeOver(trend, o.AsOf, 183))},
		{"a year", changeFigure(o.Year)},
	}
}

// near enough: a level may stand for a day up to this far from it.
const levelSlack = 7 * 24 * time.Hour

func changeOver(trend []home.TrendPoint, now time.Time, days int) home.Change {
	a, okA := levelAt(trend, now.AddDate(0, 0, -days))
	b, okB := levelAt(trend, now)
	if !okA || !okB || a.Value <= 0 {
		return home.Change{}
	}
	pct := 100 * (b.Value/a.Value - 1)
	half := 100 / a.Value * math.Hypot((b.Hi-b.Lo)/2, b.Value/a.Value*(a.Hi-a.Lo)/2)
	return home.Change{Known: true, Pct: pct, Lo: pct - half, Hi: pct + half}
}

func levelAt(trend []home.TrendPoint, at time.Time) (home.TrendPoint, bool) {
	var best home.TrendPoint
	gap := levelSlack + 1
	for _, t := range trend {
		if d := t.Time.Sub(at).Abs(); d < gap {
			best, gap = t, d
		}
	}
	return best, gap <= levelSlack
}

func months(s series, zone *time.Location) []monthRow {
	sources := map[string][]string{}
	for _, r := range s.readings {
		m := r.Time.In(zone).Format("Jan 2006")
		if name := sourceWords(r.Source); !slices.Contains(sources[m], name) {
			sources[m] = append(sources[m], name)
		}
	}
	rows := make([]monthRow, 0, 13)
	for _, row := range s.tableBy(zone, byMonth).Rows {
		slices.Sort(sources[row.When])
		rows = append(rows, monthRow{row, strings.Join(sources[row.When], ", ")})
	}
	return rows
}

// howTaken says of each source how its weighings were taken and how far each
// can be off.
func howTaken(rs []home.Reading) []string {
	sds := map[string][]float64{}
	for _, r := range rs {
		sds[r.Source] = append(sds[r.Source], r.SD)
	}
	var out []string
	for src, sd := range sds {
		how := "Scale " + src + ": weighs by itself whenever the cat steps on it"
		switch src {
		case home.Hand:
			how = "By hand: a person at home, on a scale or by difference"
		case home.Clinic:
			how = "At the practice: as written down there"
		}
		out = append(out, fmt.Sprintf("%s; %s, %s.", how, plural(len(sd), "weighing"), uncertainty(middle(sd))))
	}
	slices.Sort(out)
	return out
}

func uncertainty(kg float64) string {
	if kg <= 0 {
		return "standard uncertainty not stated"
	}
	return fmt.Sprintf("standard uncertainty of one about %.0f g", 1000*kg)
}
