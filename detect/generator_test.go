package detect

import (
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"weighbeam/home"
)

// household is a generator of cats for measuring detection: parameters are drawn
// for each cat, so that nothing can be tuned to one. It is simpler than the
// simulator on purpose and shares no code with it.
type household struct {
	rng      *rand.Rand
	base     float64 // kg
	noise    float64 // visit noise, percent
	rate     float64 // visits a day
	wanderSD float64 // percent
	phi      float64
	drift    float64 // percent a square root of a day
	season   float64 // amplitude, percent
	phase    float64
	handSD   float64 // percent
	handBias float64
	handRate float64 // hand weighings a day
	onset    float64 // day from start on which the fall begins
	pace     float64 // percent a day of the fall
}

// Figures come from seeds beyond unseenSeeds; those before were used for tuning.
const unseenSeeds = 1 << 20

var epoch = time.Date(2021, 1, 1, 0, 0, 0, 0, time.UTC)

func newHousehold(seed uint64) *household {
	rng := rand.New(rand.NewPCG(seed, 0x5eed))
	between := func(lo, hi float64) float64 { return lo + (hi-lo)*rng.Float64() }
	h := &household{rng: rng, base: between(3, 6.5), onset: math.Inf(1)}
	grams := 0.1 / h.base // percent of body weight a gram
	h.noise = grams * between(25, 75)
	h.rate = between(1, 4.5)
	h.wanderSD = grams * between(7, 24)
	h.phi = between(0.5, 0.9)
	h.drift = math.Exp(between(math.Log(0.02), math.Log(0.08)))
	h.season = between(0, 1)
	h.phase = between(0, 2*math.Pi)
	h.handSD = grams * 120
	h.handBias = grams * 80 * rng.NormFloat64()
	h.handRate = between(0, 1.0/7)
	return h
}

// newRestless is a harder cat: quiet within the day, but moved from day to day by
// 25 to 75 g, as long meals and bladders do.
func newRestless(seed uint64) *household {
	h := newHousehold(seed)
	grams := 0.1 / h.base
	h.noise, h.wanderSD, h.phi = grams*(10+15*h.rng.Float64()), grams*(25+50*h.rng.Float64()), 0.3+0.4*h.rng.Float64()
	return h
}

// weighings returns the weighings of the cat over the days, in time order.
func (h *household) weighings(days int) []home.Weighing {
	var out []home.Weighing
	level, wander := 0.0, h.wanderSD*h.rng.NormFloat64()
	gapUntil := -1
	for d := range days {
		level += h.drift * h.rng.NormFloat64()
		wander = h.phi*wander + h.wanderSD*math.Sqrt(1-h.phi*h.phi)*h.rng.NormFloat64()
		if h.rng.Float64() < 2.0/365 {
			gapUntil = d + 3 + h.rng.IntN(12)
		}
		out = h.today(out, d, level+wander+h.season*math.Sin(2*math.Pi*float64(d)/365.25+h.phase), d < gapUntil)
	}
	return out
}

func (h *household) today(out []home.Weighing, d int, healthy float64, gap bool) []home.Weighing {
	first := len(out)
	add := func(source string, sd, bias float64) {
		at := float64(d) + h.rng.Float64()
		pct := healthy + bias + sd*h.rng.NormFloat64() - h.pace*max(0, at-h.onset)
		kg := h.base * math.Exp(pct/100)
		if h.rng.Float64() < 0.015 {
			kg = h.base * (0.4 + 1.2*h.rng.Float64())
		}
		out = append(out, home.Weighing{Cat: "cat", Kg: kg, Source: source, Confidence: 1,
			Time: epoch.Add(time.Duration(at * float64(oneDay))).Truncate(home.TimeStep)})
	}
	for range h.poisson(h.rate) {
		if !gap {
			add("box-1", h.noise, 0)
		}
	}
	if h.rng.Float64() < h.handRate {
		add(home.Hand, h.handSD, h.handBias)
	}
	slices.SortFunc(out[first:], func(a, b home.Weighing) int { return a.Time.Compare(b.Time) })
	return out
}

func (h *household) poisson(mean float64) int {
	n, p, limit := 0, h.rng.Float64(), math.Exp(-mean)
	for p > limit {
		n++
		p *= h.rng.Float64()
	}
	return n
}

// watch steps a monitor through the weighings with a tick at each midnight and
// returns every transition.
func watch(m *Monitor, weighings []home.Weighing) []home.Transition {
	var turned []home.Transition
	tick := epoch
	for i := range weighings {
		for ; !tick.After(weighings[i].Time); tick = tick.Add(oneDay) {
			turned = append(turned, m.Tick(tick)...)
		}
		turned = append(turned, m.Step(Observation{Weighing: &weighings[i]})...)
	}
	return turned
}
