package whose

import (
	"math"
	"time"

	"weighbeam/home"
)

// score counts how visits were named.
type score struct {
	visits, named, right                      int
	late, lateRight                           int // named, and right, in the last 15 days
	residents, unclear                        int
	guests, guestsNamed, guestsKnown, strange int // strange: residents called guests
}

func (s *score) count(v home.Visit, truth string, late bool) {
	s.visits++
	ok := v.Cat == truth
	if v.Cat != "" {
		s.named++
		s.right += btoi(ok)
		if late {
			s.late++
			s.lateRight += btoi(ok)
		}
	}
	if truth == "" {
		s.guests++
		s.guestsNamed += btoi(v.Cat != "")
		s.guestsKnown += btoi(v.Whose == home.Guest)
		return
	}
	s.residents++
	s.unclear += btoi(v.Cat == "")
	s.strange += btoi(v.Whose == home.Guest)
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func (s *score) plus(o score) {
	s.visits += o.visits
	s.named += o.named
	s.right += o.right
	s.late += o.late
	s.lateRight += o.lateRight
	s.residents += o.residents
	s.unclear += o.unclear
	s.guests += o.guests
	s.guestsNamed += o.guestsNamed
	s.guestsKnown += o.guestsKnown
	s.strange += o.strange
}

func ratio(a, b int) float64 {
	if b == 0 {
		return math.NaN()
	}
	return float64(a) / float64(b)
}

// run names the visits and returns how each stood at first and in the end.
func run(a *Assigner, stays []stay) (first, last []home.Visit) {
	at := map[key]int{}
	for i, s := range stays {
		k := key{s.visit.Source, s.visit.Start.UnixNano()}
		at[k] = i
		first = append(first, home.Visit{})
		last = append(last, home.Visit{})
		for _, v := range a.Step(s.visit) {
			j := at[key{v.Source, v.Start.UnixNano()}]
			if j == i {
				first[i] = v
			}
			last[j] = v
		}
	}
	return first, last
}

func tally(w world, stays []stay, named []home.Visit) score {
	var s score
	for i, v := range named {
		late := stays[i].visit.Start.Sub(epoch) > time.Duration(w.days-15)*24*time.Hour
		s.count(v, stays[i].truth, late)
	}
	return s
}

// knowing names each visit as one would who knows every cat's weight, scatter
// and rate at that time, the guest's too, and names above the same probability:
// Bayes' rule, the bound.
func knowing(w world, stays []stay) []home.Visit {
	var out []home.Visit
	for _, s := range stays {
		day := s.visit.Start.Sub(epoch).Hours() / 24
		p, total := make([]float64, len(w.cats)), 0.0
		for i, c := range w.cats {
			sd := math.Hypot(c.scatter, w.mass.median/0.6745)
			z := (s.visit.MassKg*1000 - c.grams(day)) / sd
			p[i] = c.perDay(day) * (math.Exp(-z*z/2) + 1e-9) / sd
			total += p[i]
		}
		v := s.visit
		for i, c := range w.cats {
			if p[i] >= nameAbove*total && !c.nobody {
				v.Cat = c.id
			}
		}
		out = append(out, v)
	}
	return out
}

// nearestWeight names each visit after the cat whose last weight is nearest,
// following each with a tenth of every visit: the yardstick.
func nearestWeight(h home.Household, stays []stay) []home.Visit {
	at := make([]float64, len(h.Cats))
	for i, c := range h.Cats {
		at[i] = c.WeightKg
	}
	var out []home.Visit
	for _, s := range stays {
		best := 0
		for i := range at {
			if math.Abs(at[i]-s.visit.MassKg) < math.Abs(at[best]-s.visit.MassKg) {
				best = i
			}
		}
		v := s.visit
		v.Cat, v.Whose, v.Confidence = h.Cats[best].ID, home.Named, 1
		at[best] += 0.1 * (s.visit.MassKg - at[best])
		out = append(out, v)
	}
	return out
}
