package dashboards

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// weighed is the weight: now, how it changed, the chart, and a table by month.
func (g *gathering) weighed() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Weight"}
	s, err := g.weight(g.ctx, g.house, g.cat, g.per)
	if err != nil {
		return sec, err
	}
	g.readings = s.readings
	if len(s.readings) == 0 {
		g.absent = append(g.absent, "weight")
		sec.Text = []string{"No weighing in this period."}
	}
	sec.Facts = append(sec.Facts, factOf("Smoothed, at the end", g.levelAtEnd()))
	for _, c := range g.changes() {
		sec.Facts = append(sec.Facts, factOf("Over "+c.name, c.figure))
	}
	if len(s.values) > 0 {
		sec.Chart = g.sheetChart(s)
	}
	sec.Table = g.months(s)
	return sec, nil
}

func factOf(name string, f figure) sheet.Fact {
	return sheet.Fact{Name: name, Value: f.Value, Interval: f.Interval}
}

func (g *gathering) sheetChart(s series) *sheet.Chart {
	c := &sheet.Chart{Picture: s.picture, Address: g.chartView(s, "").Printed}
	for _, l := range s.legend {
		c.Legend = append(c.Legend, sheet.Key{Glyph: l.Glyph, Words: l.Words})
	}
	return c
}

// upToNow reports whether the period reaches what is known now, so that the
// figures of the outlook are those of its end.
func (g *gathering) upToNow() bool { return g.look.AsOf.Sub(g.per.To) < 24*time.Hour }

func (g *gathering) levelAtEnd() figure {
	if g.upToNow() {
		return g.say.weightFigure(g.look.Weight)
	}
	l, ok := levelAt(g.trend, g.per.To)
	return g.say.weightFigure(home.Figure{Known: ok, Value: l.Value, Lo: l.Lo, Hi: l.Hi})
}

type namedFigure struct {
	name   string
	figure figure
}

// changes are of the smoothed weight over 1, 3, 6 and 12 months. The detector
// gives the first and the last where the period ends now. The others are taken from the level and its
// band: the two bands are taken as independent, which makes the interval rather
// too wide, since errors close in time go the same way.
func (g *gathering) changes() []namedFigure {
	month, year := g.look.Month, g.look.Year
	if !g.upToNow() {
		month, year = changeOver(g.trend, g.per.To, 28), changeOver(g.trend, g.per.To, 365)
	}
	end := g.look.AsOf
	if !g.upToNow() {
		end = g.per.To
	}
	return []namedFigure{
		{"4 weeks", changeFigure(month)},
		{"3 months", changeFigure(changeOver(g.trend, end, 91))},
		{"6 months", changeFigure(changeOver(g.trend, end, 183))},
		{"a year", changeFigure(year)},
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

// months is the table by month: the smoothed level at its last weighing with the
// interval, what was weighed, and by what.
func (g *gathering) months(s series) *sheet.Table {
	zone := g.opts.Zone
	t := &sheet.Table{Name: "Weight by month",
		Head: []string{"Month", "Level, " + s.unit, "90 % interval", "Lowest", "Highest", "Weighings", "Taken by"}, Text: []int{6}, Wide: 2}
	sources, levels := map[string][]string{}, map[string]home.TrendPoint{}
	for _, r := range s.readings {
		m := r.Time.In(zone).Format("Jan 2006")
		if name := sourceWords(r.Source); !slices.Contains(sources[m], name) {
			sources[m] = append(sources[m], name)
		}
	}
	for _, l := range g.trend {
		if g.per.holds(l.Time) {
			levels[l.Time.In(zone).Format("Jan 2006")] = l
		}
	}
	for _, row := range s.tableBy(zone, byMonth).Rows {
		slices.Sort(sources[row.When])
		level := g.say.weightFigure(home.Figure{})
		if l, ok := levels[row.When]; ok {
			level = g.say.weightFigure(home.Figure{Known: true, Value: l.Value, Lo: l.Lo, Hi: l.Hi})
		}
		t.Rows = append(t.Rows, []string{row.When, strings.TrimSuffix(level.Value, " "+s.unit), level.Interval,
			row.Least, row.Most, fmt.Sprint(row.N), strings.Join(sources[row.When], ", ")})
	}
	return t
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
