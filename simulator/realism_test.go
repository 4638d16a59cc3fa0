package simulator_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

// year is a large house watched for a year, as healthy as it gets.
func year(t *testing.T, seed uint64) *simulator.House {
	t.Helper()
	return house(t, simulator.Options{
		Seed: seed, Start: time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), Days: 365, Cats: simulator.MaxCats, Scales: 4,
		Faults: simulator.FrontPaws | simulator.Scoop | simulator.Outlier,
	})
}

func house(t testing.TB, o simulator.Options) *simulator.House {
	t.Helper()
	h, err := simulator.New(o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func mean(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}

func sd(v []float64) float64 {
	m, sum := mean(v), 0.0
	for _, x := range v {
		sum += (x - m) * (x - m)
	}
	return math.Sqrt(sum / float64(len(v)-1))
}

func quantile(v []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(v))
	return s[int(p*float64(len(s)-1)+0.5)]
}

func within(t *testing.T, what string, got, lo, hi float64) {
	t.Helper()
	if !(got >= lo && got <= hi) {
		t.Errorf("%s is %.4g, want %.4g to %.4g", what, got, lo, hi)
	}
}

// Shin et al. 2024 (J Vet Clin 41:71-78, 37 healthy cats): 3 visits a day with a
// reference interval of 1 to 7; 59 s a visit, 4.67 to 132 s; 192 s a day.
func TestHouse_Visits_AreAsPublished(t *testing.T) {
	day := map[string]float64{}
	var length []float64
	for e := range year(t, 1).Events() {
		if e.Kind == simulator.Visit {
			day[e.Cat+e.Start.Format(time.DateOnly)]++
		}
		if e.Kind == simulator.Visit || e.Kind == simulator.Look {
			length = append(length, e.End.Sub(e.Start).Seconds())
		}
	}
	var perDay []float64
	for _, n := range day {
		perDay = append(perDay, n)
	}
	within(t, "visits a day", mean(perDay), 2.5, 3.5)
	within(t, "the 2.5 % quantile of visits a day", quantile(perDay, 0.025), 1, 1)
	within(t, "the 97.5 % quantile of visits a day", quantile(perDay, 0.975), 5, 7)
	within(t, "seconds a visit", mean(length), 47, 65)
	within(t, "the 2.5 % quantile of seconds a visit", quantile(length, 0.025), 2.5, 10)
	within(t, "the 97.5 % quantile of seconds a visit", quantile(length, 0.975), 105, 150)
	within(t, "seconds a day", mean(perDay)*mean(length), 130, 220)
}

// Zanghi et al. 2018 (Am J Vet Res 79:733): 10.3 mL/kg of urine a day on dry
// food and tap water, 15.2 with a nutrient water. J Anim Physiol Anim Nutr
// 2020;104:715-724, table 8: 28.8 to 47.0 g of wet faeces a day; Front Vet Sci
// 2023;10:1129775: faeces found on 83 % of cat-days.
func TestHouse_Deposits_AreAsPublished(t *testing.T) {
	h := year(t, 2)
	kg := map[string]float64{}
	for _, p := range h.Profiles() {
		kg[p.Cat.ID] = p.Cat.WeightKg
	}
	urine, faeces, days := map[string]float64{}, map[string]float64{}, map[string]bool{}
	var left []float64
	for e := range h.Events() {
		if e.Kind != simulator.Visit {
			continue
		}
		urine[e.Cat] += e.UrineG
		faeces[e.Cat] += e.FaecesG
		if e.FaecesG > 0 {
			days[e.Cat+e.Start.Format(time.DateOnly)] = true
		}
		if e.UrineG > 0 && e.FaecesG == 0 || e.UrineG == 0 && e.FaecesG > 0 {
			left = append(left, e.UrineG+e.FaecesG)
		}
	}
	for cat, g := range urine {
		within(t, "urine of "+cat+", g/kg a day", g/365/kg[cat], 10, 16)
		within(t, "faeces of "+cat+", g a day", faeces[cat]/365, 22, 47)
	}
	within(t, "part of the cat-days with faeces", float64(len(days))/365/float64(len(kg)), 0.75, 0.95)
	within(t, "the 10 % quantile of what one thing left, g", quantile(left, 0.1), 9, 16)
	within(t, "the median of what one thing left, g", quantile(left, 0.5), 14, 40)
}

// Ljungvall et al. 2014: the sleeping rate of a healthy cat at home is about
// 21 a minute, each cat's mean is under 30. Dijkstra et al. 2018: 9 to 28
// asleep, and a median of 64 in a consulting room.
func TestHouse_Breaths_AreAsPublished(t *testing.T) {
	asleep, clinic := map[string][]float64{}, []float64{}
	for r := range year(t, 3).Settled() {
		switch {
		case r.Quantity == home.Breaths && r.State == home.Asleep:
			asleep[r.Cat] = append(asleep[r.Cat], r.PerMinute())
		case r.Quantity == home.Breaths && r.State == home.AtClinic:
			clinic = append(clinic, r.PerMinute())
		}
	}
	var means []float64
	for cat, rates := range asleep {
		within(t, "counts of "+cat+" a week", float64(len(rates))/365*7, 2.3, 3.2)
		within(t, "mean of "+cat, mean(rates), 14, 28)
		within(t, "spread of "+cat, sd(rates), 1.2, 4.5)
		means = append(means, mean(rates))
	}
	within(t, "mean of the cats' means", mean(means), 17, 25)
	within(t, "median in the clinic", quantile(clinic, 0.5), 45, 90)
}

// The settled weights of a cat scatter as asked for: 25 to 75 g from day to day,
// correlated, about a level that moves slowly; 1.5 % of them are grossly wrong.
func TestHouse_Settled_StaysNearTheTruth(t *testing.T) {
	h := year(t, 4)
	truth := map[time.Time]simulator.Event{}
	for e := range h.Events() {
		if e.Kind == simulator.Visit {
			truth[e.End] = e
		}
	}
	gross, errors := 0.0, []float64{}
	for r := range h.Settled() {
		if r.Quantity != home.Weight || r.Clock != home.ByDevice {
			continue
		}
		e, ok := truth[r.Time]
		if !ok || e.Source != r.Source {
			t.Fatalf("no visit ends at %s", r.Time)
		}
		if off := r.Value - e.MassKg; math.Abs(off) > 0.1 {
			gross++
		} else {
			errors = append(errors, off*1000)
		}
	}
	within(t, "mean error of a settled weight, g", mean(errors), -1, 1)
	within(t, "spread of a settled weight, g", sd(errors), 6, 12)
	within(t, "part grossly wrong", gross/float64(len(errors)), 0.009, 0.02)
}

func TestHouse_Mass_WandersAsAsked(t *testing.T) {
	h := year(t, 5)
	daily := map[string][]float64{}
	for e := range h.Events() {
		if e.Kind == simulator.Visit {
			daily[e.Cat] = append(daily[e.Cat], 1000*(e.MassKg-e.LevelKg))
		}
	}
	for _, p := range h.Profiles() {
		off := daily[p.Cat.ID]
		// The wander, drawn between two days, and what bladder and gut hold.
		within(t, "scatter of "+p.Cat.ID+" about its level, g", sd(off), 0.75*p.ScatterKg*1000, 1.1*p.ScatterKg*1000+20)
		within(t, "mean of "+p.Cat.ID+" about its level, g", mean(off), -15, 15)
		pairs := 0.0
		for i := 1; i < len(off); i++ {
			pairs += off[i] * off[i-1]
		}
		within(t, "correlation of neighbours of "+p.Cat.ID, pairs/float64(len(off)-1)/(sd(off)*sd(off)), 0.3, 0.99)
	}
}

// A person with a bathroom scale is off by up to 120 g and the bias of the
// scale; a clinic by about 20 g.
func TestHouse_HandWeighings_AreRough(t *testing.T) {
	var hand, clinic []float64
	h := year(t, 6)
	truth := map[string]float64{}
	for e := range h.Events() {
		if e.Kind == simulator.Weighed {
			truth[e.Source+e.Cat+e.Start.String()] = e.MassKg
		}
	}
	for r := range h.Settled() {
		if r.Quantity != home.Weight || r.Clock != home.ByHand {
			continue
		}
		off := 1000 * (r.Value - truth[r.Source+r.Cat+r.Time.String()])
		if r.Source == home.Hand {
			hand = append(hand, off)
		} else {
			clinic = append(clinic, off)
		}
	}
	within(t, "spread by hand, g", sd(hand), 55, 85)
	within(t, "worst by hand, g", math.Max(-slices.Min(hand), slices.Max(hand)), 100, 235)
	within(t, "spread in the clinic, g", sd(clinic), 10, 35)
	within(t, "weighings by hand", float64(len(hand)), 60, 130)
}
