package dashboards

import (
	"slices"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// monthSum is what a cat took or left in one month.
type monthSum struct {
	name  string
	sum   float64
	each  []float64
	days  map[string]bool
	first time.Time
}

// occasion is one meal, drink or visit.
type occasion struct {
	at    time.Time
	value float64
}

// byMonths adds up the occasions of each month, newest month first.
func (g *gathering) byMonths(all []occasion) []monthSum {
	sums := map[string]*monthSum{}
	for _, o := range all {
		local := o.at.In(g.opts.Zone)
		name := local.Format("Jan 2006")
		m := sums[name]
		if m == nil {
			m = &monthSum{name: name, days: map[string]bool{}, first: local}
			sums[name] = m
		}
		m.sum += o.value
		m.each = append(m.each, o.value)
		m.days[local.Format(time.DateOnly)] = true
	}
	var out []monthSum
	for _, m := range sums {
		out = append(out, *m)
	}
	slices.SortFunc(out, func(a, b monthSum) int { return b.first.Compare(a.first) })
	return out
}

// eating is what was eaten and drunk, a day on which anything was measured: a day
// without a measurement is not a day without food.
func (g *gathering) eating() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Eating and drinking"}
	t := &sheet.Table{Name: "Eaten and drunk by month", Head: []string{"Month", "What", "A day", "Days measured", "Times"}, Text: []int{1}}
	for _, what := range []struct {
		quantity   home.Quantity
		event      home.Event
		word, unit string
	}{{home.Intake, home.Meal, "food", "g"}, {home.Drunk, home.Drink, "water", "mL"}} {
		taken, err := g.taken(what.quantity, what.event)
		if err != nil {
			return sec, err
		}
		if len(taken) == 0 {
			g.absent = append(g.absent, what.word)
		}
		for _, m := range g.byMonths(taken) {
			t.Rows = append(t.Rows, []string{m.name, what.word, number(m.sum/float64(len(m.days)), 0) + " " + what.unit,
				number(float64(len(m.days)), 0), number(float64(len(m.each)), 0)})
		}
	}
	if len(t.Rows) == 0 {
		return sheet.Section{}, nil
	}
	sec.Table = t
	return sec, nil
}

// taken is what the cat took of food or water: what a device or a person said,
// and what bowls felt.
func (g *gathering) taken(q home.Quantity, e home.Event) ([]occasion, error) {
	rs, err := g.takenReadings(q, e)
	var out []occasion
	for _, r := range rs {
		out = append(out, occasion{r.Time, r.Value})
	}
	return out, err
}

func (g *gathering) takenReadings(q home.Quantity, e home.Event) ([]home.Reading, error) {
	out, err := g.in(q)
	if err != nil {
		return nil, err
	}
	visits, err := g.visits(e)
	for _, v := range visits {
		if v.HasLeft { // a millilitre of water weighs a gram
			out = append(out, home.Reading{Source: v.Source, Quantity: q, Time: v.End, Value: -v.LeftG, SD: v.LeftSDG, Cat: v.Cat})
		}
	}
	slices.SortStableFunc(out, func(a, b home.Reading) int { return a.Time.Compare(b.Time) })
	return out, err
}

// visits are those of the cat that felt one of the events, in time order.
func (g *gathering) visits(events ...home.Event) ([]home.Visit, error) {
	if g.came == nil {
		all, err := g.store.VisitsOf(g.ctx, g.cat.ID, g.per.From, g.per.To.Add(time.Second))
		if err != nil {
			return nil, err
		}
		g.came = &all
	}
	var out []home.Visit
	for _, v := range *g.came {
		if slices.Contains(events, v.Event) {
			out = append(out, v)
		}
	}
	return out, nil
}

// boxVisits are the visits to a litter box.
func (g *gathering) boxVisits() ([]home.Visit, error) {
	visits, err := g.visits(home.CatVisit)
	return slices.DeleteFunc(visits, func(v home.Visit) bool {
		s, _ := g.house.Scale(v.Source)
		return s.Kind != home.LitterBox
	}), err
}

// litter is visits to the litter box and what they left.
func (g *gathering) litter() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Litter box"}
	visits, err := g.boxVisits()
	if err != nil {
		return sec, err
	}
	var came, left []occasion
	for _, v := range visits {
		came = append(came, occasion{v.Start, v.End.Sub(v.Start).Seconds()})
		if v.HasLeft {
			left = append(left, occasion{v.Start, v.LeftG})
		}
	}
	if len(came) == 0 {
		g.absent = append(g.absent, "litter-box visits")
		return sheet.Section{}, nil
	}
	sec.Table = g.litterTable(came, left)
	if len(left) > 0 {
		sec.Points = []string{"A visit that leaves nothing may have been too short to weigh what was left."}
	}
	return sec, nil
}

func (g *gathering) litterTable(came, left []occasion) *sheet.Table {
	t := &sheet.Table{Name: "Litter-box visits by month", Head: []string{"Month", "Visits a day", "Stay, s", "Left a visit, g", "Days seen"}}
	what := map[string]monthSum{}
	for _, m := range g.byMonths(left) {
		what[m.name] = m
	}
	for _, m := range g.byMonths(came) {
		grams := ""
		if l, ok := what[m.name]; ok {
			grams = number(middle(l.each), 0)
		}
		t.Rows = append(t.Rows, []string{m.name, number(float64(len(m.each))/float64(len(m.days)), 1), positive(middle(m.each)), grams,
			number(float64(len(m.days)), 0)})
	}
	return t
}

// positive is v in whole units, nothing for the 0 of a device that does not say.
func positive(v float64) string {
	if v <= 0 {
		return ""
	}
	return number(v, 0)
}
