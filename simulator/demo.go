package simulator

import (
	"time"

	"weighbeam/home"
)

// demoDays is how long the demo house has been watched.
const demoDays = 243

// demoFaults are those of an ordinary house with good devices.
const demoFaults = TwoStep | Digging | Turning | JumpOut | FrontPaws | OutsidePaw | Knock | InTurn |
	Scoop | TopUp | LitterChange | Thermal | Creep | ZeroDrift | Gap | Outlier

// Demo is a house with a story, told up to end: three cats and two boxes for
// eight months. Bramble, thirteen, was well for six months and has lost 0.5 % a
// week for seven weeks. Quill's sleeping breaths have risen from 21 a minute to
// the low thirties in five weeks. Saffron is well.
func Demo(seed uint64, end time.Time) *House {
	start := end.AddDate(0, 0, -demoDays)
	h, err := New(Options{
		Seed: seed, Start: start, Days: demoDays, Profiles: demoCats(end), Scales: 2, Faults: demoFaults,
	})
	if err != nil {
		panic("simulator: the demo house is not valid: " + err.Error()) // only a wrong end can cause it
	}
	h.end = end // not midnight
	return h
}

// demoCats scatter from day to day by about 0.45 % of their mass, as the one cat
// did whose keeper's daily log could be read (residuals of 14 to 21 g at 4 kg).
func demoCats(end time.Time) []Profile {
	born := func(age int) time.Time { return time.Date(end.Year()-age, 5, 2, 0, 0, 0, 0, time.UTC) }
	return []Profile{
		{
			Cat:       home.Cat{ID: "bramble", Name: "Bramble", Born: born(13), Sex: "female", Neutered: true, WeightKg: 4.38},
			ScatterKg: 0.02, Memory: 0.5, DriftPctYear: -0.4, SeasonPct: 0.3, VisitsDay: 3.2, UrineGKgDay: 13, FaecesGDay: 30,
			Asleep: 20, BreathSpread: 1.1, ClinicEvery: 110,
			Loss: Ramp{Onset: end.AddDate(0, 0, -49), Pace: 0.5, Most: 12},
		},
		{
			Cat:       home.Cat{ID: "quill", Name: "Quill", Born: born(8), Sex: "male", Neutered: true, WeightKg: 5.62},
			ScatterKg: 0.024, Memory: 0.5, DriftPctYear: 0.5, SeasonPct: 0.3, VisitsDay: 2.9, UrineGKgDay: 11, FaecesGDay: 36,
			Asleep: 21, BreathSpread: 1.1, ClinicEvery: 200,
			Rise: Ramp{Onset: end.AddDate(0, 0, -35), Pace: 2.3, Most: 12.5},
		},
		{
			Cat:       home.Cat{ID: "saffron", Name: "Saffron", Born: born(4), Sex: "female", Neutered: true, WeightKg: 3.54},
			ScatterKg: 0.016, Memory: 0.4, DriftPctYear: 0.3, SeasonPct: 0.2, VisitsDay: 3.1, UrineGKgDay: 12, FaecesGDay: 26,
			Asleep: 18.5, BreathSpread: 1.0, ClinicEvery: 220,
		},
	}
}
