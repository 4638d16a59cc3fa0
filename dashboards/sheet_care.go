package dashboards

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"weighbeam/dashboards/sheet"
	"weighbeam/home"
)

// fed is what the cat was fed and given, and how that changed.
func (g *gathering) fed() (sheet.Section, error) {
	sec := sheet.Section{Heading: "Diet and medicines"}
	if err := g.checked(); err != nil {
		return sec, err
	}
	sec.List = g.cared(home.DietChange, home.MedicineStarted, home.MedicineStopped)
	if t := g.given(); len(t.Rows) > 0 {
		sec.Table = t
	}
	if len(sec.List) == 0 && sec.Table == nil {
		g.absent = append(g.absent, "diet", "medicines")
		return sheet.Section{}, nil
	}
	return sec, nil
}

// happened is everything else that figures must be read with.
func (g *gathering) happened() (sheet.Section, error) {
	sec := sheet.Section{Heading: "What happened"}
	sec.List = g.cared(home.VetVisit, home.Diagnosis, home.PlanAgreed, home.Pregnancy, home.Step, home.Away)
	if len(sec.List) == 0 {
		return sheet.Section{}, nil
	}
	return sec, nil
}

// cared lists the events of some kinds, newest first.
func (g *gathering) cared(kinds ...home.CareKind) []sheet.Entry {
	var out []sheet.Entry
	for _, c := range slices.Backward(g.care) {
		if slices.Contains(kinds, c.Kind) {
			out = append(out, g.entry(c.From, g.careWords(c)))
		}
	}
	return out
}

func (g *gathering) careWords(c home.Care) string {
	words := careKindWords(c.Kind)
	if !c.Until.IsZero() {
		words += " until " + g.say.date(c.Until)
	}
	if c.Plan != nil {
		words += fmt.Sprintf(": %s, at most %s %% a week", g.say.mass(c.Plan.TargetKg), number(c.Plan.Most(), 1))
		if c.Plan.AgreedWith != "" {
			words += ", agreed with " + c.Plan.AgreedWith
		}
	}
	if c.StepKg != 0 {
		words += fmt.Sprintf(": the scale shows %s %s more", signed(g.say.weight(c.StepKg), 2), g.say.unit())
	}
	if said := strings.TrimSpace(c.Words); said != "" {
		words += ": " + shortened(said)
	}
	return words
}

// careKindWords names what happened; what a practice found is in the keeper's words.
func careKindWords(k home.CareKind) string {
	switch k {
	case home.VetVisit:
		return "visit to the practice"
	case home.Diagnosis:
		return "the practice said"
	case home.DietChange:
		return "new food"
	case home.MedicineStarted:
		return "medicine started"
	case home.MedicineStopped:
		return "medicine stopped"
	case home.PlanAgreed:
		return "weight goal"
	case home.Step:
		return "a step that is no change of health"
	case home.Away:
		return "away from the scales"
	}
	return string(k)
}

// givenSum is one thing that was given, as it was last, and how often it was told.
type givenSum struct {
	home.Given
	last  time.Time
	times int
}

// given sums up what the checks say was given, food first.
func (g *gathering) given() *sheet.Table {
	var sums []givenSum
	for _, c := range g.checks { // newest first
		for _, one := range c.Given {
			i := slices.IndexFunc(sums, func(s givenSum) bool {
				return s.Kind == one.Kind && strings.EqualFold(strings.TrimSpace(s.What), strings.TrimSpace(one.What))
			})
			if i < 0 {
				i = len(sums)
				sums = append(sums, givenSum{one, c.Time, 0})
			}
			sums[i].times++
		}
	}
	order := home.GivenKinds()
	slices.SortStableFunc(sums, func(a, b givenSum) int { return slices.Index(order, a.Kind) - slices.Index(order, b.Kind) })
	t := &sheet.Table{Name: "Given", Head: []string{"Given", "What", "Last", "Taken then", "Times"}, Text: []int{1, 2, 3}}
	for _, s := range sums {
		t.Rows = append(t.Rows, []string{string(s.Kind), what(s.Given), g.say.date(s.last), string(s.Taken), fmt.Sprint(s.times)})
	}
	return t
}

func what(g home.Given) string {
	if g.Amount == "" {
		return g.What
	}
	return g.What + ", " + g.Amount
}

// corrected says how often an entry was put right, so that nobody wonders why
// an older sheet says otherwise.
func (g *gathering) corrected() ([]string, error) {
	all, err := g.store.Corrections(g.ctx, g.cat.ID)
	n := 0
	var last time.Time
	for _, c := range all {
		if g.per.holds(c.At) {
			n++
			last = c.At
		}
	}
	if err != nil || n == 0 {
		return nil, err
	}
	return []string{fmt.Sprintf("People put %s right in this period, the last on %s: an older sheet may say otherwise.", entries(n), g.say.date(last))}, nil
}

func entries(n int) string {
	if n == 1 {
		return "one entry"
	}
	return fmt.Sprintf("%d entries", n)
}
