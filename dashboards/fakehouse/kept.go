package fakehouse

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// Kept is Lived with a keeper who writes everything down of Plum: looks, lumps,
// food, medicines, a weight goal, what bowls and boxes felt, and a correction.
func Kept() *House {
	h := Lived()
	h.Home.Cats[2].Chip = "276000000000123"
	h.Home.Scales = append(h.Home.Scales, home.Scale{ID: "fountain", Kind: home.Water})
	h.Checked = append(h.Checked, looks()...)
	h.Cared = care()
	h.Corrected = []home.Correction{{ID: "k1", Cat: "plum", Matter: home.OfCheck, Target: "look-0", Replacement: "look-1", At: back(59), By: "Ines", Why: "The other ear."}}
	for d := range 60 {
		h.dayOfBowls(d)
	}
	for i := range 3 {
		h.Counted = append(h.Counted,
			home.Reading{Source: home.Hand, Quantity: home.Heartbeats, Cat: "plum", State: home.Resting, Window: 15 * time.Second, Time: back(20 * i), Value: float64(40 + i)},
			home.Reading{Source: home.Hand, Quantity: home.Temperature, Cat: "plum", Time: back(20 * i), Value: 38.2 + float64(i)/10})
	}
	return h
}

func back(days int) time.Time { return Now.AddDate(0, 0, -days).Add(-time.Hour) }

// dayOfBowls is a day of meals, drinks and visits to the box.
func (h *House) dayOfBowls(d int) {
	at := back(d)
	visit := func(source string, event home.Event, hours int, left float64) {
		start := at.Add(-time.Duration(hours) * time.Hour)
		h.Visited = append(h.Visited, home.Visit{Source: source, Event: event, Cat: "plum", Confidence: .97, Whose: home.Named, Start: start,
			End: start.Add(time.Duration(50+5*hours) * time.Second), MassKg: 3.89, SDKg: .015, LeftG: left, HasLeft: true})
	}
	visit("bowl", home.Meal, 2, -float64(14+d%5))
	visit("bowl", home.Meal, 9, -float64(18+d%3))
	visit("fountain", home.Drink, 5, -float64(40+d%9))
	visit("hall-box", home.CatVisit, 3, float64(22+d%7))
	visit("hall-box", home.CatVisit, 12, float64(28+d%6))
}

func looks() []home.HomeCheck {
	score := func(p home.Part, n float64) home.Seen { return home.Seen{Part: p, Number: n, HasNumber: true} }
	return []home.HomeCheck{
		{ID: "look-1", Cat: "plum", Time: back(60), By: "Ines", Seen: []home.Seen{
			score(home.BodyScore, 6), {Part: home.Muscle, Values: []string{"normal"}}, {Part: home.Coat, Values: []string{home.Usual}},
			{Part: home.Ears, Side: home.Left, Values: []string{"dark-wax"}}, {Part: home.Gums, Values: []string{"pink"}}},
			Lumps: []home.Lump{{ID: "l1", Place: home.AtShoulder, Side: home.Left, LengthMm: 6, WidthMm: 5, FirstSeen: Now.AddDate(0, 0, -64)}},
			Given: []home.Given{{Kind: home.Food, What: "Dry food, hillside", Amount: "32 g", Taken: home.TookAll}}},
		{ID: "look-2", Cat: "plum", Time: back(2), By: "Ines", Note: "Purrs. Did not like the tape measure.", Seen: []home.Seen{
			score(home.BodyScore, 5), {Part: home.Muscle, Values: []string{"mild-loss"}}, {Part: home.Coat, Values: []string{home.Usual}},
			{Part: home.Gums, Values: []string{"pale"}}, {Part: home.Gait, Values: []string{home.Usual}},
			{Part: home.Refill, Values: []string{"one-to-two-seconds"}},
			score(home.FaceEars, 0), score(home.FaceEyes, 1), score(home.FaceMuzzle, 0)},
			Lumps: []home.Lump{{ID: "l1", Place: home.AtShoulder, Side: home.Left, LengthMm: 9, WidthMm: 7, HeightMm: 4, FirstSeen: Now.AddDate(0, 0, -64), Note: "moves under the skin"},
				{ID: "l2", Place: home.AtHindLeg, Side: home.Right}, {ID: "l3", Place: home.AtTail, Gone: true}},
			Given: []home.Given{{Kind: home.Medicine, What: "Drops from the practice", Amount: "2 drops", Taken: home.TookAll},
				{Kind: home.Food, What: "dry food, hillside", Amount: "30 g", Taken: home.TookMost}, {Kind: home.Treat, What: "Fish flakes"}}},
	}
}

func care() []home.Care {
	var all []home.Care
	add := func(days int, c home.Care) {
		c.ID, c.Cat, c.From, c.Told, c.By = fmt.Sprint("care-", len(all)), "plum", back(days), back(days), "Ines"
		if c.Plan != nil {
			c.Plan.From = c.From
		}
		all = append(all, c)
	}
	add(200, home.Care{Kind: home.VetVisit, Words: "yearly visit"})
	add(150, home.Care{Kind: home.PlanAgreed, Plan: &home.Plan{TargetKg: 3.7, MostPerWk: 1, AgreedWith: "Dr Okafor"}})
	add(120, home.Care{Kind: home.DietChange, Words: "from tins to dry food, hillside"})
	add(40, home.Care{Kind: home.MedicineStarted, Words: "drops, twice a day"})
	add(10, home.Care{Kind: home.Diagnosis, Words: "heart sounds clear, come again in six weeks"})
	return all
}
