package detect

import (
	"math"
	"math/rand/v2"
	"time"

	"weighbeam/home"
)

// sleeper is a cat whose sleeping breaths are counted about three times a week.
// Its parameters are drawn, so that nothing can be tuned to one; the ranges are
// wider than the sign's own grid knows. No paper gives the spread within a cat,
// so a range of 1 to 2.6 a minute is assumed.
type sleeper struct {
	rng     *rand.Rand
	usual   float64 // a minute
	spread  float64 // of single counts over 30 s, beside the wander
	wander  float64 // standard deviation of the slow wander
	phi     float64 // its correlation from one day to the next
	season  float64 // amplitude over the year: warm rooms
	phase   float64
	slip    float64 // share of counts that are a breath off
	seconds float64 // window
	onset   float64 // days from the start at which breaths begin to rise
	pace    float64 // a minute, each week
}

// breathStart is when the counts of a sleeper begin.
var breathStart = time.Date(2022, 3, 1, 0, 0, 0, 0, time.UTC)

func newSleeper(seed uint64) *sleeper {
	rng := rand.New(rand.NewPCG(seed, 0xb4ea7))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	s := &sleeper{rng: rng, seconds: 30, onset: math.Inf(1)}
	s.usual = between(15, 26)
	s.spread = math.Exp(between(0, math.Log(2.6)))
	s.wander = between(0.3, 1.4)
	s.phi = math.Exp(-1 / math.Exp(between(math.Log(10), math.Log(120))))
	s.season = between(0, 0.5)
	s.phase = between(0, 2*math.Pi)
	s.slip = between(0, 0.05)
	return s
}

// own is the part of the spread that is the cat's: counting whole breaths over 30 s
// has a part of 1/3 in its square, and slips have theirs.
func (s *sleeper) own() float64 {
	return math.Sqrt(max(0.2, s.spread*s.spread-1.0/3-4*s.slip))
}

// counts are the readings of the days, in time order: on about three days of
// the week, none in holidays, and one in a hundred far too high.
func (s *sleeper) counts(days int) []home.Reading {
	var out []home.Reading
	wander := s.wander * s.rng.NormFloat64()
	away := -1
	for d := range days {
		wander = s.phi*wander + s.wander*math.Sqrt(1-s.phi*s.phi)*s.rng.NormFloat64()
		if s.rng.Float64() < 1.5/365 {
			away = d + 7 + s.rng.IntN(14)
		}
		if d < away || s.rng.Float64() > 3.0/7 {
			continue
		}
		at := float64(d) + 0.3 + 0.6*s.rng.Float64()
		rate := s.usual + wander + s.season*math.Sin(2*math.Pi*at/365.25+s.phase) + s.own()*s.rng.NormFloat64()
		rate += s.pace * max(0, at-s.onset) / 7
		if s.rng.Float64() < 0.01 {
			rate *= 1.4 + 1.2*s.rng.Float64()
		}
		out = append(out, s.reading(at, rate))
	}
	return out
}

func (s *sleeper) reading(at, rate float64) home.Reading {
	n := math.Round(rate * s.seconds / 60)
	switch u := s.rng.Float64(); {
	case u < s.slip/2:
		n--
	case u < s.slip:
		n++
	}
	return breathReading(breathStart.Add(time.Duration(at*24*float64(time.Hour))), max(0, n), s.seconds, home.Asleep)
}

// breathReading is one count of breaths of the cat "juniper".
func breathReading(at time.Time, n, seconds float64, state home.State) home.Reading {
	return home.Reading{
		Source: home.Hand, Quantity: home.Breaths, Time: at.Truncate(time.Second), Value: n,
		Window: time.Duration(seconds * float64(time.Second)), State: state, Cat: "juniper",
	}
}

// stepCounts steps m through the readings and returns what turned.
func stepCounts(m *Monitor, readings []home.Reading) []home.Transition {
	var turned []home.Transition
	for i := range readings {
		turned = append(turned, m.Step(Observation{Count: &readings[i]})...)
	}
	return turned
}
