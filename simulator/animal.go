package simulator

import (
	"math"
	"time"
)

// animal is a cat as it lives: a body whose mass moves from day to day, a
// bladder and a gut that fill, and breath.
type animal struct {
	Profile
	start   time.Time // of the house
	d       dice
	last    float64 // kg, day-to-day wander of yesterday and today
	now     float64
	slow    float64 // a slow wander over months, as a part of the mass
	day     time.Time
	length  time.Duration // of the day: 23 to 25 hours
	voided  time.Time
	emptied time.Time // bowels
	busy    time.Time // in a box until then
	breath  float64   // slow wander of the breath rate
}

func newAnimal(p Profile, seed uint64, start time.Time) *animal {
	a := &animal{Profile: p, start: start, d: newDice(seed, "animal "+p.Cat.ID, 0)}
	a.now = a.d.normal(0, p.ScatterKg)
	a.voided = start.Add(-time.Duration(a.d.between(2, 8) * float64(time.Hour)))
	a.emptied = start.Add(-time.Duration(a.d.between(2, 20) * float64(time.Hour)))
	return a
}

// slowDays is the memory of the slow wander, slowPart its standard deviation as
// a part of the body mass. Both are chosen, to give a healthy weight that no
// straight line fits.
const (
	slowDays = 60.0
	slowPart = 0.003
)

func (a *animal) wake(day time.Time, length time.Duration) {
	a.day, a.length = day, length
	m := a.Memory
	a.last, a.now = a.now, m*a.now+math.Sqrt(1-m*m)*a.d.normal(0, a.ScatterKg)
	keep := math.Exp(-1 / slowDays)
	a.slow = keep*a.slow + math.Sqrt(1-keep*keep)*a.d.normal(0, slowPart)
	a.breath = 0.9*a.breath + math.Sqrt(1-0.81)*a.d.normal(0, 0.5)
}

// level is the body mass in kg at t without what comes and goes within days.
func (a *animal) level(t time.Time) float64 {
	years := t.Sub(a.start).Hours() / (365.25 * 24)
	season := seasonAt(t) - seasonAt(a.start)
	drift := 3 * math.Tanh(years/3) // levels off within years: nobody drifts for ever
	healthy := 1 + a.DriftPctYear/100*drift + a.SeasonPct/100*season + a.slow
	return a.Cat.WeightKg * healthy * (1 - a.Loss.at(t)/100)
}

// seasonAt is 1 in the middle of January and -1 in July: cats eat less in
// summer (common practice; no figure for the swing was found).
func seasonAt(t time.Time) float64 {
	return math.Cos(2 * math.Pi * float64(t.YearDay()-15) / 365.25)
}

// mass is the body mass in kg at t: level, wander, and what bladder and gut hold
// against what they hold when a cat comes to the box on average (parts of a
// day's amount, found by running the house).
func (a *animal) mass(t time.Time) float64 {
	part := clamp(t.Sub(a.day).Hours()/a.length.Hours(), 0, 1)
	wander := a.last + (a.now-a.last)*part
	held := a.bladder(t) + a.bowel(t) - (0.36*a.UrineGKgDay*a.Cat.WeightKg + 0.7*a.FaecesGDay)
	return a.level(t) + wander + held/1000
}

// bladder is what has gathered since the last voiding, g.
func (a *animal) bladder(t time.Time) float64 {
	return clamp(a.UrineGKgDay*a.Cat.WeightKg*t.Sub(a.voided).Hours()/24, 0, 90)
}

// bowel is what has gathered since the last motion, g.
func (a *animal) bowel(t time.Time) float64 {
	return clamp(a.FaecesGDay*t.Sub(a.emptied).Hours()/24, 0, 110)
}

// leave empties what is full enough and returns the grams of urine and faeces.
func (a *animal) leave(t time.Time, d dice) (urine, faeces float64) {
	if u := a.bladder(t); u > d.between(9, 14) {
		urine = u * d.between(0.85, 1)
		rest := u - urine
		a.voided = t.Add(-time.Duration(rest / (a.UrineGKgDay * a.Cat.WeightKg) * 24 * float64(time.Hour)))
	}
	if f := a.bowel(t); f > d.between(0.55, 1)*a.FaecesGDay {
		faeces, a.emptied = f, t
	}
	return urine, faeces
}

// perMinute is the rate at which the cat breathes asleep at t.
func (a *animal) perMinute(t time.Time, d dice) float64 {
	return clamp(a.Asleep+a.Rise.at(t)+a.breath+d.normal(0, a.BreathSpread), 8, 90)
}

// visitHours draws when the cat goes today, in hours from midnight and in no
// order: 1 to 7 times, more often at dawn and dusk, at least 40 minutes apart.
func (a *animal) visitHours() []float64 {
	n := min(1+a.d.poisson(a.VisitsDay-1), 7)
	hours := make([]float64, 0, n)
	for try := 0; len(hours) < n && try < 30; try++ {
		h := a.hour()
		if apart(hours, h, 40.0/60) {
			hours = append(hours, h)
		}
	}
	return hours
}

func (a *animal) hour() float64 {
	h := a.d.between(0, 24)
	switch p := a.d.Float64(); {
	case p < 0.3:
		h = a.d.normal(7, 1.5)
	case p < 0.6:
		h = a.d.normal(20.5, 2)
	}
	return math.Mod(h+24, 24)
}

func apart(hours []float64, h, least float64) bool {
	for _, other := range hours {
		if math.Abs(other-h) < least {
			return false
		}
	}
	return true
}

// stay draws how long a visit lasts. Shin et al. 2024: 59 s a visit, reference
// interval 4.67 to 132 s, looks included.
func stay(d dice, left bool) time.Duration {
	s := clamp(d.lognormal(59, 0.4), 18, 300)
	if !left {
		s = clamp(d.lognormal(33, 0.5), 7, 120)
	}
	return time.Duration(s * float64(time.Second)).Truncate(time.Millisecond)
}
