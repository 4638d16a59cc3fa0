package dashboards

import (
	"context"
	"slices"
	"time"

	"weighbeam/dashboards/chart"
	"weighbeam/home"
)

// measure is a quantity besides weight and sleeping breaths that a cat's page draws.
type measure struct {
	name     string // as in the address
	heading  string
	unit     string
	decimals int
	least    float64 // height of the axis
	daily    bool    // values of a day are added up
	value    func(home.Reading) float64
	gather   func(*gathering) ([]home.Reading, error) // in time order
}

func own(r home.Reading) float64 { return r.Value }

// measures lists them in the order of the page.
func measures() []measure {
	return []measure{
		{"heart", "Heart beats", "/min", 0, 40, false, home.Reading.PerMinute, func(g *gathering) ([]home.Reading, error) { return g.in(home.Heartbeats) }},
		{"temperature", "Temperature", "°C", 1, 2, false, own, func(g *gathering) ([]home.Reading, error) { return g.in(home.Temperature) }},
		{"eaten", "Food eaten a day", "g", 0, 20, true, own, func(g *gathering) ([]home.Reading, error) { return g.takenReadings(home.Intake, home.Meal) }},
		{"drunk", "Water drunk a day", "mL", 0, 20, true, own, func(g *gathering) ([]home.Reading, error) { return g.takenReadings(home.Drunk, home.Drink) }},
		{"litter", "Litter-box visits a day", "", 0, 4, true, func(home.Reading) float64 { return 1 }, (*gathering).stays},
		{"left", "Left in the litter box, each visit", "g", 0, 20, false, own, (*gathering).deposits},
		{"condition", "Body condition, 1 to 9", "", 0, 4, false, own, (*gathering).conditions},
		{"lumps", "Lumps, longest side", "mm", 0, 10, false, own, (*gathering).lumpSizes},
	}
}

// stays are visits to the litter box, with how long each took.
func (g *gathering) stays() ([]home.Reading, error) {
	visits, err := g.boxVisits()
	var out []home.Reading
	for _, v := range visits {
		out = append(out, home.Reading{Source: v.Source, Quantity: home.Stay, Time: v.Start, Value: v.End.Sub(v.Start).Seconds(), Cat: v.Cat})
	}
	return out, err
}

// deposits are what visits to the litter box left.
func (g *gathering) deposits() ([]home.Reading, error) {
	visits, err := g.boxVisits()
	var out []home.Reading
	for _, v := range visits {
		if v.HasLeft {
			out = append(out, home.Reading{Source: v.Source, Quantity: home.Deposit, Time: v.End, Value: v.LeftG, SD: v.LeftSDG, Cat: v.Cat})
		}
	}
	return out, err
}

// conditions are the body scores of home checks. They are no quantity of a device.
func (g *gathering) conditions() ([]home.Reading, error) {
	return g.ofChecks(func(c home.HomeCheck) []home.Reading {
		if s, ok := c.Of(home.BodyScore, ""); ok && s.HasNumber {
			return []home.Reading{{Source: home.Hand, Value: s.Number}}
		}
		return nil
	}, home.Quantity(home.BodyScore))
}

// lumpSizes are the lumps of home checks; each stands as a source of its own.
func (g *gathering) lumpSizes() ([]home.Reading, error) {
	return g.ofChecks(func(c home.HomeCheck) []home.Reading {
		var out []home.Reading
		for _, l := range c.Lumps {
			if mm := l.SizeMm(); mm > 0 {
				out = append(out, home.Reading{Source: "lump: " + sided(l.Place.Words(), l.Side), Value: mm})
			}
		}
		return out
	}, "lump-size")
}

func (g *gathering) ofChecks(of func(home.HomeCheck) []home.Reading, q home.Quantity) ([]home.Reading, error) {
	if err := g.checked(); err != nil {
		return nil, err
	}
	var out []home.Reading
	for _, c := range slices.Backward(g.checks) {
		for _, r := range of(c) {
			r.Time, r.Cat, r.Quantity = c.Time, c.Cat, q
			out = append(out, r)
		}
	}
	return out, nil
}

// gather is what the charts and the sheet of a cat over a period are made from.
func (p *pages) gather(ctx context.Context, h home.Household, c home.Cat, per period) *gathering {
	return &gathering{pages: p, ctx: ctx, house: h, cat: c, per: per}
}

// series draws one measure.
func (m measure) series(g *gathering) (series, error) {
	each, err := m.gather(g)
	if err != nil {
		return series{}, err
	}
	s := series{cat: g.cat, name: m.name, period: g.per, unit: m.unit, decimals: m.decimals, each: each}
	shown, value := each, m.value
	if m.daily {
		shown, value = daysOf(each, m.value, g.opts.Zone), own
	}
	s.fill(g.house, shown, value, time.Time{}, time.Time{})
	s.picture.Title = m.heading + ", " + g.cat.Name + ", " + g.per.Words
	s.picture.MinSpan = m.least
	s.describe()
	return s, g.drawCare(&s)
}

// eachDay is the source of what was added up over a day.
const eachDay = "each day"

// daysOf adds up the values of each day; a day without any is left out, since
// nothing measured is not nothing there.
func daysOf(rs []home.Reading, value func(home.Reading) float64, zone *time.Location) []home.Reading {
	var out []home.Reading
	for _, r := range rs {
		noon := midnight(r.Time.In(zone)).Add(12 * time.Hour)
		if n := len(out); n == 0 || !out[n-1].Time.Equal(noon) {
			out = append(out, home.Reading{Source: eachDay, Quantity: r.Quantity, Time: noon, Cat: r.Cat})
		}
		out[len(out)-1].Value += value(r)
	}
	return out
}

// drawCare draws what was done with the cat, and explains each letter.
func (g *gathering) drawCare(s *series) error {
	care, err := g.store.Care(g.ctx, g.cat.ID, g.per.From, g.per.To.Add(time.Second))
	if err != nil || len(s.values) == 0 {
		return err
	}
	n := 0
	for _, c := range care {
		if c.From.Before(s.picture.From) || n == 26 {
			continue
		}
		letter := string(rune('a' + n))
		n++
		s.picture.Moments = append(s.picture.Moments, chart.Moment{At: c.From, Letter: letter})
		if s.name == "weight" || s.name == "breaths" {
			s.legend = append(s.legend, legendEntry{letter, g.say.date(c.From) + ", " + g.careWords(c)})
		}
	}
	if n > 0 && s.name != "weight" && s.name != "breaths" { // told once, not under ten charts
		s.legend = append(s.legend, legendEntry{"a, b, …", "what happened, as told under the weight"})
	}
	if plan := home.PlanOn(care, g.per.last()); plan != nil && s.name == "weight" {
		g.drawPlan(s, *plan)
	}
	return nil
}

// drawPlan draws the target of a weight goal, and how far down the fastest pace
// that it allows would be by now.
func (g *gathering) drawPlan(s *series, plan home.Plan) {
	s.picture.Levels = append(s.picture.Levels, chart.Level{Value: g.say.weight(plan.TargetKg), Words: "goal " + g.say.mass(plan.TargetKg)})
	start, ok := levelAt(g.pages.look.Trend(g.cat.ID), plan.From)
	if !ok {
		return
	}
	kg := start.Value
	for at := plan.From; !at.After(g.per.To) && kg > plan.TargetKg; at = at.AddDate(0, 0, 7) {
		s.picture.Pace = append(s.picture.Pace, chart.Mark{Time: at, Value: g.say.weight(kg)})
		kg *= 1 - plan.Most()/100
	}
	s.legend = append(s.legend, legendEntry{"-·-", "the fastest pace that the goal allows, " + number(plan.Most(), 1) + " % a week"})
}
