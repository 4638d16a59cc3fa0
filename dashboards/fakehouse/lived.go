package fakehouse

import (
	"math"
	"math/rand/v2"
	"time"

	"weighbeam/home"
)

// Now is when a lived-in house is looked at.
var Now = time.Date(2026, 3, 28, 18, 45, 0, 0, time.UTC)

// Empty is a house on its first day.
func Empty() *House { return &House{Outlooks: map[string]home.Outlook{}} }

// Lived is a house with fourteen months behind it: Mustard has been losing
// weight for weeks, the sleeping breaths of Plum rise, and Barnaby is as ever.
func Lived() *House {
	h := &House{Outlooks: map[string]home.Outlook{}, Trends: map[string][]home.TrendPoint{}}
	h.Home = home.Household{
		Cats: []home.Cat{
			{ID: "barnaby", Name: "Barnaby", Born: day(2022, 5, 1), Sex: "male", Neutered: true, WeightKg: 5.2},
			{ID: "mustard", Name: "Mustard", Born: day(2014, 1, 1), BornYear: true, Sex: "female", Neutered: true, WeightKg: 4.4},
			{ID: "plum", Name: "Plum", Born: day(2017, 9, 12), Sex: "female", Neutered: true, WeightKg: 3.8},
		},
		Scales: []home.Scale{
			{ID: "hall-box", Kind: home.LitterBox, Topic: "house/hall/box"},
			{ID: "attic-box", Kind: home.LitterBox, Topic: "house/attic/box"},
			{ID: "bowl", Kind: home.Feeder, Topic: "house/bowl"},
		},
	}
	rng := rand.New(rand.NewPCG(11, 28))
	h.live(rng, "barnaby", 5.21, func(float64) float64 { return 0 })
	h.live(rng, "mustard", 4.43, func(d float64) float64 { return -0.0034 * math.Max(0, d-380) })
	h.live(rng, "plum", 3.84, func(d float64) float64 { return 0.00012 * d })
	h.breathe(rng)
	h.find()
	h.people()
	h.calibrate()
	h.know()
	return h
}

func day(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

const daysLived = 425

// live weighs a cat two or three times a day; for three weeks of summer nobody
// is at home and the attic box is shut.
func (h *House) live(rng *rand.Rand, cat string, kg float64, drift func(day float64) float64) {
	wander := 0.0
	for d := range daysLived {
		wander = 0.85*wander + rng.NormFloat64()*0.008
		at := Now.AddDate(0, 0, d-daysLived+1)
		if at.Month() == time.August && at.Day() < 22 {
			continue
		}
		level := kg + drift(float64(d)) + wander
		h.Trends[cat] = append(h.Trends[cat], home.TrendPoint{Time: at, Value: level - 0.6*wander, Lo: level - 0.6*wander - 0.022, Hi: level - 0.6*wander + 0.022})
		for v := range 2 + rng.IntN(2) {
			source := "hall-box"
			if rng.IntN(3) == 0 {
				source = "attic-box"
			}
			h.Weighed = append(h.Weighed, home.Weighing{
				Cat: cat, Source: source, Confidence: 0.98, SDKg: 0.015,
				Time: at.Add(-time.Duration(5*v+rng.IntN(4)) * time.Hour),
				Kg:   level + rng.NormFloat64()*0.018,
			})
		}
	}
	h.Weighed = append(h.Weighed,
		home.Weighing{Cat: cat, Source: home.Hand, Time: Now.AddDate(0, 0, -60), Kg: kg + 0.04, SDKg: 0.041, Confidence: 1},
		home.Weighing{Cat: cat, Source: home.Clinic, Time: Now.AddDate(0, 0, -150), Kg: kg + 0.02, SDKg: 0.01, Confidence: 1})
	sortByTime(h.Weighed)
}

// breathe counts Plum's breaths every four days, rising over the last two months.
func (h *House) breathe(rng *rand.Rand) {
	for d := 0; d < 300; d += 4 {
		rate := 21 + math.Max(0, float64(d-240))*0.16 + rng.NormFloat64()*1.4
		h.Counted = append(h.Counted, home.Reading{
			Source: home.Hand, Quantity: home.Breaths, Cat: "plum", State: home.Asleep, Window: 30 * time.Second,
			Time: Now.AddDate(0, 0, d-299).Add(3 * time.Hour), Value: math.Round(rate / 2),
		})
	}
	h.Counted = append(h.Counted, home.Reading{Source: home.Hand, Quantity: home.Breaths, Cat: "plum", State: home.AtClinic,
		Window: 15 * time.Second, Time: Now.AddDate(0, 0, -3), Value: 16})
}
