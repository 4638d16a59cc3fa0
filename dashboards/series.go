package dashboards

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

// series is one measured quantity of one cat over a period, ready to be drawn,
// put in a table or written as CSV.
type series struct {
	cat      home.Cat
	name     string // as in the address: "weight" or "breaths"
	period   period
	picture  chart.Picture
	legend   []legendEntry
	readings []home.Reading // in time order, only those of the period
	values   []float64      // of each reading, in the unit shown
	each     []home.Reading // what readings were added up from; nil: they are single ones
	unit     string
	decimals int
}

type legendEntry struct{ Glyph, Words string }

// weight gathers the weighings of a cat.
func (p *pages) weight(ctx context.Context, h home.Household, c home.Cat, per period, about ...home.Finding) (series, error) {
	now := p.opts.Now()
	open, err := p.openOf(ctx, c.ID, home.WeightFalling, home.WeightRising, home.WeightLow)
	if err != nil {
		return series{}, err
	}
	usualFrom, usualTo := usualSpan(open, now)
	ws, err := p.weighings(ctx, c.ID, earlier(per.From, usualFrom), now.Add(time.Second))
	if err != nil {
		return series{}, err
	}
	rs := weightReadings(ws)
	s := series{cat: c, name: "weight", period: per, unit: p.say.unit(), decimals: 2}
	usual := s.fill(h, rs, func(r home.Reading) float64 { return p.say.weight(r.Value) }, usualFrom, usualTo)
	if s.picture.Line = p.line(c.ID, s.picture.From, s.picture.To); len(s.picture.Line) > 0 {
		s.legend = append([]legendEntry{{"—", "smoothed level; the band holds it with 90 % certainty"}}, s.legend...)
	}
	s.picture.Title = "Weight of " + c.Name + ", " + per.Words
	s.picture.MinSpan = 0.05 * middle(s.values)
	s.drawUsual(usual)
	s.drawOnset(append(about, open...), p.say)
	s.describe()
	return s, p.gather(ctx, h, c, per).drawCare(&s)
}

// weighings are those that carry the name of cat. What may be of several cats is in
// the line, but no mark of its own.
func (p *pages) weighings(ctx context.Context, cat string, from, to time.Time) ([]home.Weighing, error) {
	ws, err := p.store.Weighings(ctx, cat, from, to)
	return slices.DeleteFunc(ws, func(w home.Weighing) bool { return w.Unclear }), err
}

// breaths gathers the breaths a minute that were counted while the cat slept.
func (p *pages) breaths(ctx context.Context, h home.Household, c home.Cat, per period, about ...home.Finding) (series, error) {
	now := p.opts.Now()
	open, err := p.openOf(ctx, c.ID, home.BreathingRising, home.BreathingHigh)
	if err != nil {
		return series{}, err
	}
	usualFrom, usualTo := usualSpan(open, now)
	all, err := p.store.Counts(ctx, c.ID, home.Breaths, earlier(per.From, usualFrom), now.Add(time.Second))
	if err != nil {
		return series{}, err
	}
	asleep := slices.DeleteFunc(slices.Clone(all), func(r home.Reading) bool { return r.State != home.Asleep })
	s := series{cat: c, name: "breaths", period: per, unit: "/min", decimals: 0}
	usual := s.fill(h, asleep, home.Reading.PerMinute, usualFrom, usualTo)
	if s.picture.Line = runningMiddle(s.readings, s.values); len(s.picture.Line) > 0 {
		s.legend = append([]legendEntry{{"—", "middle of the last " + strconv.Itoa(runLength) + " counts"}}, s.legend...)
	}
	s.picture.Title = "Breaths a minute of " + c.Name + " asleep, " + per.Words
	s.picture.MinSpan = 20
	s.picture.Levels = []chart.Level{{Value: breathLine, Words: "30 a minute"}}
	s.drawUsual(usual)
	s.drawOnset(append(about, open...), p.say)
	s.describe()
	return s, p.gather(ctx, h, c, per).drawCare(&s)
}

// breathLine: repeated sleeping counts over 30 a minute merit a look (Ljungvall
// et al. 2014, J Feline Med Surg, abstract).
const breathLine = 30

// openOf is what is open of a cat, of the signs given or of any.
func (p *pages) openOf(ctx context.Context, cat string, signs ...home.Sign) ([]home.Finding, error) {
	all, err := p.store.Findings(ctx, true, time.Time{})
	return slices.DeleteFunc(all, func(f home.Finding) bool {
		return f.Cat != cat || (len(signs) > 0 && !slices.Contains(signs, f.Sign))
	}), err
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// fill sorts readings into the period and by source, and returns the usual range.
func (s *series) fill(h home.Household, rs []home.Reading, value func(home.Reading) float64, usualFrom, usualTo time.Time) chart.Range {
	var every []chart.Mark
	bySource := map[string][]chart.Mark{}
	for _, r := range rs {
		m := chart.Mark{Time: r.Time, Value: value(r)}
		every = append(every, m)
		if s.period.holds(r.Time) {
			s.readings, s.values = append(s.readings, r), append(s.values, m.Value)
			bySource[r.Source] = append(bySource[r.Source], m)
		}
	}
	for i, src := range sourcesInOrder(h, bySource) {
		shape := shapeOf(src, i)
		s.picture.Series = append(s.picture.Series, chart.Series{Name: src, Shape: shape, Marks: bySource[src]})
		s.legend = append(s.legend, legendEntry{shape.Glyph(), sourceWords(src)})
	}
	s.picture.From, s.picture.To, s.picture.Unit = s.period.From, s.period.To, s.unit
	if s.picture.From.IsZero() {
		s.picture.From = s.period.To.AddDate(0, -1, 0)
		if len(s.readings) > 0 {
			s.picture.From = earlier(s.readings[0].Time, s.picture.From)
		}
	}
	return usualRange(every, usualFrom, usualTo)
}

// sourcesInOrder lists the household's scales first, so that a scale keeps its
// shape whatever the period shows.
func sourcesInOrder(h home.Household, have map[string][]chart.Mark) []string {
	var out, rest []string
	for _, s := range h.Scales {
		if len(have[s.ID]) > 0 {
			out = append(out, s.ID)
		}
	}
	for src := range have {
		if !slices.Contains(out, src) {
			rest = append(rest, src)
		}
	}
	slices.Sort(rest)
	return append(out, rest...)
}

func shapeOf(source string, i int) chart.Shape {
	switch source {
	case home.Hand:
		return chart.Cross
	case home.Clinic:
		return chart.Square
	}
	scales := []chart.Shape{chart.Dot, chart.Plus, chart.Diamond, chart.Triangle}
	return scales[i%len(scales)]
}

func (s *series) drawUsual(r chart.Range) {
	if r == (chart.Range{}) {
		return
	}
	s.picture.Usual, s.picture.UsualWords = r, "usual"
	s.legend = append(s.legend, legendEntry{"- -", "usual range: nine in ten readings over the half year before, " +
		number(r.Lo, s.decimals) + " to " + number(r.Hi, s.decimals) + " " + s.unit})
}

func (s *series) drawOnset(open []home.Finding, say format) {
	for _, f := range open {
		if f.Onset.IsZero() {
			continue
		}
		s.picture.Began = chart.Span{At: f.Onset, Lo: f.OnsetLo, Hi: f.OnsetHi}
		s.picture.BeganWords = "began " + say.date(f.Onset)
		s.legend = append(s.legend, legendEntry{"▒", "the change began in here: " + say.date(f.OnsetLo) + " to " + say.date(f.OnsetHi)})
		return
	}
}

// describe puts into words what the picture shows, for who cannot see it.
func (s *series) describe() {
	if len(s.values) == 0 {
		s.picture.Desc = "No readings in this period."
		return
	}
	last := s.readings[len(s.readings)-1]
	s.picture.Desc = fmt.Sprintf("%s, from %s to %s %s; the last, on %s, is %s %s. %s The table holds the figures.",
		plural(len(s.values), "reading"), number(slices.Min(s.values), s.decimals), number(slices.Max(s.values), s.decimals), s.unit,
		last.Time.Format("2 Jan 2006"), number(s.values[len(s.values)-1], s.decimals), s.unit, upper(s.picture.BeganWords))
}

func upper(words string) string {
	if words == "" {
		return ""
	}
	return "A change " + words + "."
}

// line is the smoothed weight in the unit shown, inside the picture.
func (p *pages) line(cat string, from, to time.Time) []home.TrendPoint {
	var out []home.TrendPoint
	for _, t := range p.look.Trend(cat) {
		if !t.Time.Before(from) && !t.Time.After(to) {
			t.Value, t.Lo, t.Hi = p.say.weight(t.Value), p.say.weight(t.Lo), p.say.weight(t.Hi)
			out = append(out, t)
		}
	}
	return out
}

func middle(vs []float64) float64 {
	if len(vs) == 0 {
		return 0
	}
	sorted := slices.Clone(vs)
	slices.Sort(sorted)
	return sorted[len(sorted)/2]
}

// runLength is how many counts a running middle takes: enough that one count
// taken in a dream does not move it.
const runLength = 5

// runningMiddle is the middle of the last runLength values at each reading. It
// draws the eye only: it has no interval, and no finding rests on it.
func runningMiddle(rs []home.Reading, vs []float64) []home.TrendPoint {
	var out []home.TrendPoint
	for i := runLength; i <= len(vs); i++ {
		m := middle(vs[i-runLength : i])
		out = append(out, home.TrendPoint{Time: rs[i-1].Time, Value: m, Lo: m, Hi: m})
	}
	return out
}
