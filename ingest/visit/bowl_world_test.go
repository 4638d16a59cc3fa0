package visit_test

import (
	"math"
	"math/rand/v2"
)

// mealOf is a cat that eats or drinks g grams: its head leans on the bowl and
// bobs at each bite or lap, and what it takes leaves the bowl bite by bite.
// Where it stands on the scale itself, what it takes it carries until it leaves.
func mealOf(r *rand.Rand, at, g, rate, cat float64, kind string) force {
	n := ticks(math.Max(4, g/rate) * (1 + 0.3*r.Float64()))
	load := make([]float64, n)
	lean, hz := 10+60*r.Float64(), 1+2.5*r.Float64()
	var body []float64
	if cat > 0 {
		body = weightOf(r, cat, n, 0)
		enter(r, body)
		leave(r, body)
	}
	bob, paused, taken := 0.0, 0, 0.0
	for i := range load {
		if paused == 0 && r.Float64() < tick/12 {
			paused = ticks(1 + 4*r.Float64()) // looks up
		}
		bob += -bob*tick/0.1 + 25*math.Sqrt(2*tick/0.1)*r.NormFloat64()*0.3
		if paused > 0 {
			paused--
			load[i] = -taken
		} else {
			taken += g / float64(n)
			load[i] = -taken + lean*(0.6+0.4*math.Sin(2*math.Pi*hz*float64(i)*tick)) + bob
		}
		if cat > 0 {
			load[i] = body[i]
		}
	}
	end := at + float64(n)*tick
	f := force{at: at, load: load, net: -g, truth: []truth{{kind: kind, start: at, end: end, left: -g}}}
	if cat > 0 {
		f.truth = append(f.truth, truth{kind: "visit", start: at, end: end, mass: cat})
	}
	return f
}

// refillOf is the bowl lifted off, or filled where it stands.
func refillOf(r *rand.Rand, at, bowl, g float64) force {
	if r.Float64() < 0.5 {
		return liftOf(r, at, bowl, g, "refill")
	}
	n := ticks(2 + 5*r.Float64())
	load := make([]float64, n)
	for i := range load {
		load[i] = g*float64(i)/float64(n) + 30*math.Abs(r.NormFloat64())
	}
	return force{at: at, load: load, net: g, truth: []truth{{kind: "refill", start: at, end: at + float64(n)*tick, left: g}}}
}

// bowlDay draws what happens at a bowl in a day: about ten small meals (Kane et
// al. 1981: 16 a day, 4.8 g of dry matter each), a refill and a nose put in.
func bowlDay(r *rand.Rand, day float64, drink bool, cat float64) []force {
	var out []force
	kind, rate := "meal", 0.12
	if drink {
		kind, rate = "drink", 0.35
	}
	for _, at := range moments(r, day, 10) {
		g := 3 + 12*r.Float64()
		if drink {
			g = 6 + 30*r.Float64()
		}
		out = append(out, mealOf(r, at, g, rate, cat, kind))
	}
	for _, at := range moments(r, day, 1.5) {
		out = append(out, refillOf(r, at, 350, 40+80*r.Float64()))
	}
	for _, at := range moments(r, day, 2) {
		f := knockOf(r, at)
		f.truth[0].kind = "nose"
		out = append(out, f)
	}
	return out
}
