package dashboards

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

type catView struct {
	Card    catCard
	Periods []periodLink
	Charts  []chartView
	Checks  []checkRow
	More    int // checks of the period that are not listed
	Closed  []findingLine
	Learned []string
}

// chartView is a chart on a page, its legend and the table behind it.
type chartView struct {
	Heading, Alt         string
	SVG, Narrow, Printed string
	PNG, CSV, Spots      string // addresses, whole: html/template would escape the = of a part
	Legend               []legendEntry
	Table                table
	N                    int
	High                 int    // of the picture, where it is not the usual height
	Empty                string // what to do where there is nothing to draw
}

type checkRow struct {
	When     time.Time
	By       string
	Parts    []string
	RedFlags []string
	Note     string
}

// checksShown is how many home checks a page lists.
const checksShown = 40

func (p *pages) cat(r *http.Request) (view, error) {
	ctx, now := r.Context(), p.opts.Now()
	h, c, err := p.findCat(ctx, r.PathValue("id"))
	if err != nil {
		return view{}, err
	}
	findings, err := p.store.Findings(ctx, false, now.AddDate(-1, 0, 0))
	if err != nil {
		return view{}, err
	}
	open, closed := parted(findings, c.ID)
	v := catView{}
	if v.Card, err = p.card(ctx, h, c, open, now); err != nil {
		return view{}, err
	}
	v.Closed = linesFor(closed, c.ID)
	v.Learned = p.look.Outlook(c.ID).Learned
	per := periodNamed(r.FormValue("period"), now)
	v.Periods = periodLinks(per.Key)
	if v.Charts, err = p.chartsOf(r, h, c, per); err != nil {
		return view{}, err
	}
	checks, err := p.store.Checks(ctx, c.ID, per.From, now.Add(time.Hour))
	if err != nil {
		return view{}, err
	}
	v.Checks = p.checkRows(checks[:min(len(checks), checksShown)])
	v.More = len(checks) - len(v.Checks)
	return view{"cat.html", c.Name, v}, nil
}

func parted(fs []home.Finding, cat string) (open, closed []home.Finding) {
	for _, f := range fs {
		switch {
		case f.Cat != cat:
		case f.Open():
			open = append(open, f)
		default:
			closed = append(closed, f)
		}
	}
	return open, closed
}

func (p *pages) chartsOf(r *http.Request, h home.Household, c home.Cat, per period) ([]chartView, error) {
	weight, err := p.weight(r.Context(), h, c, per)
	if err != nil {
		return nil, err
	}
	breaths, err := p.breaths(r.Context(), h, c, per)
	if err != nil {
		return nil, err
	}
	more, err := p.moreCharts(p.gather(r.Context(), h, c, per))
	if err != nil {
		return nil, err
	}
	w := p.chartView(weight, "Weight")
	w.Empty = "No weighing in this period. A scale under the litter box weighs by itself; or weigh by hand at a home check."
	b := p.chartView(breaths, "Breaths asleep")
	b.Empty = "No sleeping breaths counted in this period. Count them at a home check: two or three times on different days make a start, eight to ten make a usual."
	return append([]chartView{w, b}, more...), nil
}

// moreCharts are the other quantities of which anything is known in the period.
func (p *pages) moreCharts(g *gathering) ([]chartView, error) {
	var views []chartView
	for _, m := range measures() {
		s, err := m.series(g)
		if err != nil {
			return nil, err
		}
		if len(s.values) > 0 {
			v := p.chartView(s, m.heading)
			v.SVG, v.PNG, v.Spots, v.High = v.SVG+"&size=low", v.PNG+"&size=low", v.Spots+"&size=low", int(chart.Low.H)
			views = append(views, v)
		}
	}
	return views, nil
}

func (p *pages) chartView(s series, heading string) chartView {
	at := func(form string) string { return "/cats/" + s.cat.ID + "/" + s.name + form + "?" + s.period.query() }
	return chartView{
		Heading: heading, Alt: s.picture.Title + ". " + s.picture.Desc,
		SVG: at(".svg"), Narrow: at(".svg") + "&size=narrow", Printed: at(".svg") + "&size=print", PNG: at(".png"), CSV: at(".csv"), Spots: at(".json"),
		Legend: s.legend, Table: s.table(p.opts.Zone), N: len(s.readings),
	}
}

func (p *pages) checkRows(checks []home.HomeCheck) []checkRow {
	var rows []checkRow
	for _, c := range checks {
		row := checkRow{When: c.Time, By: c.By, Note: strings.TrimSpace(c.Note)}
		for _, r := range c.Readings {
			row.Parts = append(row.Parts, p.say.reading(r))
		}
		row.Parts = append(row.Parts, lookedAt(c)...)
		for _, f := range c.RedFlags {
			row.RedFlags = append(row.RedFlags, f.Words())
		}
		rows = append(rows, row)
	}
	return rows
}

// lookedAt is what a check says besides its numbers.
func lookedAt(c home.HomeCheck) []string {
	var parts []string
	for _, s := range c.Seen {
		parts = append(parts, s.Words())
	}
	for _, l := range c.Lumps {
		parts = append(parts, "lump, "+sided(l.Place.Words(), l.Side)+": "+lumpSize(l))
	}
	for _, g := range c.Given {
		parts = append(parts, string(g.Kind)+": "+what(g))
	}
	return parts
}

// symbol is a UCUM unit as people write it.
func symbol(code string) string {
	switch code {
	case "Cel":
		return "°C"
	case "[degF]":
		return "°F"
	}
	return code
}

// reading is a reading as a person would say it.
func (f format) reading(r home.Reading) string {
	switch {
	case r.Quantity == home.Weight && r.SD > 0:
		return fmt.Sprintf("weight %s ± %s", f.mass(r.Value), number(f.weight(r.SD), 2))
	case r.Quantity == home.Weight:
		return "weight " + f.mass(r.Value)
	case r.Quantity.Counted():
		return fmt.Sprintf("%s %s in %s s, %s: %s a minute", number(r.Value, 0), r.Quantity,
			number(r.Window.Seconds(), 0), stateOfCat(r.State), number(r.PerMinute(), 0))
	}
	return fmt.Sprintf("%s %s %s", r.Quantity, number(r.Value, 1), symbol(r.Quantity.Unit()))
}
