package simulator

import (
	"math"
	"time"

	"weighbeam/home"
)

// Profile is what is true of one cat.
type Profile struct {
	Cat          home.Cat // WeightKg is the body mass at the start of the house
	ScatterKg    float64  // standard deviation of the day-to-day wander of body mass
	Memory       float64  // correlation of that wander from one day to the next, 0 to below 1
	DriftPctYear float64  // healthy drift, percent of the start a year
	SeasonPct    float64  // half the swing from summer to winter, percent
	VisitsDay    float64  // mean number of visits a day, 1 or more
	UrineGKgDay  float64  // urine, g a kg of body mass a day
	FaecesGDay   float64  // wet faeces, g a day
	Asleep       float64  // usual sleeping breaths a minute
	BreathSpread float64  // standard deviation of the rate between counts, a minute
	ClinicEvery  int      // days between weighings in a clinic, 0 for none
	Loss         Ramp     // of body mass: percent a week, to at most Most percent
	Rise         Ramp     // of breaths: a minute each week, to at most Most more
}

// Ramp is a change that begins at one time and goes on at one pace until it has
// reached Most. The zero Ramp is no change.
type Ramp struct {
	Onset time.Time
	Pace  float64 // a week; below zero for a gain where a loss is meant
	Most  float64 // size, 0 for no end
}

// at is how far the change has come at t.
func (r Ramp) at(t time.Time) float64 {
	if r.Pace == 0 || !t.After(r.Onset) {
		return 0
	}
	done := r.Pace * t.Sub(r.Onset).Hours() / (7 * 24)
	if r.Most != 0 {
		return clamp(done, -r.Most, r.Most)
	}
	return done
}

// drawProfile draws a healthy cat. Sources: weight by sex, Kienzle and Moik 2011
// with the home cats of Front Vet Sci 2023;10:1129775 (4.5 +- 1.3 kg); visits,
// Shin et al. 2024; urine, Zanghi et al. 2018 (10.3 to 15.2 mL/kg a day);
// faeces, J Anim Physiol Anim Nutr 2020;104:715-724; breaths, Ljungvall et al.
// 2014. The scatter of 25 to 75 g is set wide on purpose.
func drawProfile(d dice, n int, start time.Time) Profile {
	c := home.Cat{ID: catNames[n%len(catNames)].id, Name: catNames[n%len(catNames)].name, Neutered: true, Sex: "female", BornYear: true}
	mean := 4.1
	if d.chance(0.5) {
		c.Sex, mean = "male", 4.9
	}
	c.WeightKg = round(clamp(d.normal(mean, 0.8), 2.6, 8), 0.01)
	c.Born = time.Date(start.Year()-1-d.IntN(15), 1, 1, 0, 0, 0, 0, time.UTC)
	return Profile{
		Cat: c, ScatterKg: d.between(0.025, 0.075), Memory: d.between(0.3, 0.7),
		DriftPctYear: d.between(-1.5, 2), SeasonPct: d.between(0.2, 0.9),
		VisitsDay: d.between(2.2, 3.8), UrineGKgDay: d.between(10.5, 15.5), FaecesGDay: d.between(24, 40),
		Asleep: d.between(16, 25), BreathSpread: d.between(1, 2.4), ClinicEvery: 150 + d.IntN(100),
	}
}

// fallIll gives a cat a slow change that begins in the middle third of the
// history. Paces: 0.18 % a week is 8.9 % in twelve months (Freeman et al. 2016),
// 2 % a week is the most a planned loss may be; breaths as they are hardest and
// easiest to see.
func (p *Profile) fallIll(d dice, breath bool, start time.Time, days int) {
	onset := start.AddDate(0, 0, days/3+d.IntN(days/3+1)).Add(hours(d.between(0, 24)))
	pace := d.between(0, 1)
	if breath {
		p.Rise = Ramp{Onset: onset.Truncate(time.Second), Pace: round(0.5+1.5*pace, 0.01), Most: 14}
		return
	}
	p.Loss = Ramp{Onset: onset.Truncate(time.Second), Pace: round(0.18*math.Pow(2/0.18, pace), 0.01), Most: 20}
}

var catNames = [...]struct{ id, name string }{
	{"bramble", "Bramble"}, {"quill", "Quill"}, {"saffron", "Saffron"}, {"tansy", "Tansy"},
	{"moss", "Moss"}, {"pepper", "Pepper"}, {"wren", "Wren"}, {"hazel", "Hazel"},
}

// changes lists the changes of p as events: when each begins and its pace.
func (p Profile) changes() []Event {
	var list []Event
	add := func(s home.Sign, onset time.Time, pace float64) {
		if pace != 0 {
			list = append(list, Event{Kind: Onset, Start: onset, Cat: p.Cat.ID, Sign: s, Pace: pace})
		}
	}
	sign := home.WeightFalling
	if p.Loss.Pace < 0 {
		sign = home.WeightRising
	}
	add(sign, p.Loss.Onset, -p.Loss.Pace)
	add(home.BreathingRising, p.Rise.Onset, p.Rise.Pace)
	return list
}
