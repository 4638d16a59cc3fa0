package detect

import (
	"fmt"
	"strings"
	"time"

	"weighbeam/home"
)

// Lines of a scenario on what is eaten, drunk and left, counted and seen:
//
//	sex male
//	eat 6/day 0..40 60g              meals from a weighed bowl, so much a day in all
//	drink 5/day 0..40 120mL          the same of water
//	litter 3/day 0..40 16g           visits to a litter box, each leaving so much
//	heart resting 15s 3..5 50 48     beats counted, one count a day
//	temperature 12.4 39.8            Celsius
//	saw 12.4 ann alertness quieter   what a person saw; a number is a score
//	lump 12.4 a neck 14mm            a lump, its name and place
//	care pregnancy 100..165          what was done, or is so; a step has its kg behind

// amounts spreads so much a day over so many portions, each between a half and
// one and a half of the mean.
func (s *scenario) amounts(q home.Quantity, rate, span, total string) {
	n := number(strings.TrimSuffix(rate, "/day"))
	perDay := number(strings.TrimRight(total, "gmL"))
	from, to := between(span)
	for at := from; at < to; at += 1 / n {
		s.hand(home.Reading{Quantity: q, Source: "bowl", Time: dayTime(at + 0.5*s.rng.Float64()/n), Value: perDay / n * (0.5 + s.rng.Float64())})
	}
}

func (s *scenario) hand(r home.Reading) {
	r.Cat = "cat"
	if r.Source == "" {
		r.Source = home.Hand
	}
	s.seen = append(s.seen, Observation{Count: &r})
}

func (s *scenario) litter(rate, span, left string) {
	n := number(strings.TrimSuffix(rate, "/day"))
	g := number(strings.TrimSuffix(left, "g"))
	from, to := between(span)
	for at := from; at < to; at += 1 / n {
		end := dayTime(at + 0.6*s.rng.Float64()/n)
		s.seen = append(s.seen, Observation{Box: true, Weighing: &home.Weighing{Cat: "cat", Time: end, Kg: 4.5, SDKg: 0.02, Source: "box-1", Confidence: 1}})
		s.seen = append(s.seen, Observation{Box: true, Visit: &home.Visit{Source: "box-1", Start: end.Add(-time.Minute), End: end, Event: home.CatVisit,
			Cat: "cat", Confidence: 1, Whose: home.Named, HasLeft: true, LeftG: g * (0.7 + 0.6*s.rng.Float64()), LeftSDG: 1.2}})
	}
}

func (s *scenario) heart(state, window, span string, counts []string) {
	seconds := number(strings.TrimSuffix(window, "s"))
	from, _ := between(span)
	for i, c := range counts {
		s.hand(home.Reading{Quantity: home.Heartbeats, State: home.State(state), Time: dayTime(from + float64(i) + 0.7),
			Window: time.Duration(seconds) * time.Second, Value: number(c)})
	}
}

func (s *scenario) saw(day float64, by, part string, values []string) {
	seen := home.Seen{Part: home.Part(part)}
	for _, v := range values {
		if v[0] >= '0' && v[0] <= '9' {
			seen.Number, seen.HasNumber = number(v), true
		} else {
			seen.Values = append(seen.Values, v)
		}
	}
	s.check(day, &home.HomeCheck{By: by, Seen: []home.Seen{seen}})
}

// check adds a home check, or joins it to the one of the same person and time.
func (s *scenario) check(day float64, c *home.HomeCheck) {
	c.Cat, c.Time = "cat", dayTime(day)
	for _, o := range s.seen {
		if o.Check != nil && o.Check.By == c.By && o.Check.Time.Equal(c.Time) {
			o.Check.Seen = append(o.Check.Seen, c.Seen...)
			return
		}
	}
	c.ID = fmt.Sprint(len(s.seen))
	s.seen = append(s.seen, Observation{Check: c})
}

func (s *scenario) lump(day float64, id, place, size string) {
	l := home.Lump{ID: id, Place: home.Place(place), Gone: size == "gone"}
	if !l.Gone {
		l.LengthMm = number(strings.TrimSuffix(size, "mm"))
	}
	s.check(day, &home.HomeCheck{By: id, Lumps: []home.Lump{l}})
}

func (s *scenario) care(kind, span string, rest []string) {
	c := home.Care{ID: fmt.Sprint(len(s.seen)), Cat: "cat", Kind: home.CareKind(kind), Told: epoch, Words: strings.Join(rest, " ")}
	from, to := between(span)
	c.From = dayTime(from)
	if c.Kind.Spans() {
		c.Until = dayTime(to)
	}
	if c.Kind == home.Step {
		c.StepKg = number(rest[0])
	}
	s.seen = append(s.seen, Observation{Care: &c})
}
