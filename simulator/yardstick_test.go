package simulator_test

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

// threshold is the least that anybody would write to find visits: more than a
// kilogram over the empty scale is a cat, its mass is the median while it is
// there. How well it does says how hard a house is.
type threshold struct {
	base       float64
	idle, busy []float64
	start      time.Time
	found      []home.Visit
}

func (th *threshold) step(r home.Reading) {
	if len(th.idle) == 0 {
		th.idle, th.base = []float64{r.Value}, r.Value
	}
	switch over := r.Value-th.base > 1; {
	case over && len(th.busy) > 0 && r.Time.Sub(th.start) > 6*time.Minute: // nobody stays that long: it was filled
		th.busy, th.idle, th.base = nil, nil, r.Value
	case over:
		if len(th.busy) == 0 {
			th.start = r.Time
		}
		th.busy = append(th.busy, r.Value)
	case len(th.busy) > 0:
		v := home.Visit{Source: r.Source, Start: th.start, End: r.Time, MassKg: quantile(th.busy, 0.5) - th.base}
		th.found = append(th.found, v)
		th.busy, th.idle = nil, nil
	default:
		th.idle = append(th.idle, r.Value)
		th.idle = th.idle[max(0, len(th.idle)-25):]
		th.base = quantile(th.idle, 0.5)
	}
}

// score is the part of the true visits found with their mass to 250 g, the part
// of those found that are true, and the median and 95 % error of the mass in g.
func score(h *simulator.House) (found, right, median, p95 float64) {
	scales := map[string]*threshold{}
	for r := range h.Load() {
		if r.Quantity == home.Load {
			if scales[r.Source] == nil {
				scales[r.Source] = &threshold{}
			}
			scales[r.Source].step(r)
		}
	}
	all, claimed := 0.0, 0.0
	var off []float64
	for _, th := range scales {
		claimed += float64(len(th.found))
	}
	for e := range h.Events() {
		if e.Kind != simulator.Visit || e.Lost || e.With != "" {
			continue
		}
		all++
		for _, v := range scales[e.Source].found {
			if apart := v.Start.Sub(e.Start).Abs(); apart < 15*time.Second && math.Abs(v.MassKg-e.MassKg) < 0.25 {
				off = append(off, 1000*math.Abs(v.MassKg-e.MassKg))
				break
			}
		}
	}
	return float64(len(off)) / all, float64(len(off)) / claimed, quantile(off, 0.5), quantile(off, 0.95)
}

// A threshold does well in a plain house and badly in a hard one: the first is
// no riddle, the second no easier than houses are.
func TestHouse_Difficulty_IsAsMeant(t *testing.T) {
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	found, right, median, p95 := score(house(t, simulator.Plain(21, start, 12)))
	within(t, "plain: part of the visits found", found, 0.95, 1)
	within(t, "plain: part of those found that are visits", right, 0.75, 1)
	within(t, "plain: median error, g", median, 0, 4)
	within(t, "plain: 95 % error, g", p95, 0, 25)
	found, right, _, p95 = score(house(t, simulator.Hard(22, start, 12)))
	within(t, "hard: part of the visits found", found, 0.5, 0.9)
	within(t, "hard: part of those found that are visits", right, 0.2, 0.65)
	within(t, "hard: 95 % error, g", p95, 60, 250)
}
