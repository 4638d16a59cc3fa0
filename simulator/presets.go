package simulator

import (
	"time"
)

// Plain is an ordinary house with good devices: two boxes that send five samples
// a second while something moves, three cats, two of them 330 g apart.
func Plain(seed uint64, start time.Time, days int) Options {
	return Options{
		Seed: seed, Start: start, Days: days, Scales: 2, Profiles: pinned(seed, start, 4.02, 4.35, 5.6),
		Faults: TwoStep | Digging | Turning | JumpOut | FrontPaws | Knock | Scoop | TopUp | LitterChange,
	}
}

// Hard is a house in which everything goes wrong that can: three kinds of
// device, every fault and each more often than elsewhere, five cats, two of them 170 g apart, and one that loses
// 6.5 g a day across both of those in 100 days.
func Hard(seed uint64, start time.Time, days int) Options {
	cats := pinned(seed, start, 4.3, 4.13, 4.62, 5.45, 3.25)
	from := start.AddDate(0, 0, max(0, days-100)/2)
	cats[2].Loss = Ramp{Onset: from, Pace: 100 * 7 * 0.0065 / cats[2].Cat.WeightKg, Most: 100 * 0.65 / cats[2].Cat.WeightKg}
	return Options{
		Seed: seed, Start: start, Days: days, Scales: 3, Profiles: cats,
		Devices: []Device{FiveHertz(), OneHertz(), OnChange()},
		Faults:  AllFaults &^ (Saturated | Quantised | DeadBand), // of the devices, two have these already
		Often:   2.5,
	}
}

// pinned draws cats and sets their body mass. They wander little from day to
// day, so that the masses given are also those that are met.
func pinned(seed uint64, start time.Time, kg ...float64) []Profile {
	cats := make([]Profile, len(kg))
	for i := range kg {
		d := newDice(seed, "pinned", uint64(i))
		cats[i] = drawProfile(d, i, start)
		cats[i].Cat.WeightKg, cats[i].ScatterKg = kg[i], d.between(0.015, 0.03)
		cats[i].Cat.Sex = [...]string{"female", "male"}[i%2]
	}
	return cats
}
