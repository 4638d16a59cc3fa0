package visit_test

// A house for the tests: cats as point masses on springs, hands, boxes and load
// cells, stepped at 50 Hz by Newton's second law. It shares no arithmetic with
// the tracker and knows the truth of everything it does.

import (
	"math"
	"math/rand/v2"
	"time"
)

const (
	tick  = 0.02 // s of the physics
	grav  = 9.80665
	epoch = 1740960000 // 2025-03-03T00:00:00Z
)

// truth is what really happened in one event.
type truth struct {
	kind       string // "visit", "look", "double", "scoop", "topup", "change", "knock", "paw", "hands", "lid"
	start, end float64
	mass, left float64 // g
}

// force is a stretch of time with its load on the platform in grams, beyond what
// lies in the box, and by how much the box's content has changed at each tick.
type force struct {
	at    float64
	load  []float64
	truth []truth
	net   float64 // g that stay on the platform afterwards
}

type animal struct {
	grams    func(day float64) float64
	restless float64 // 0: stands like a statue at times; 1: never stands still
}

// bounce returns n ticks of the vertical acceleration, of unit size, of a body on
// springy legs whose length wavers: a damped oscillator driven by a random
// length. A body that stays in the box has a mean acceleration of nought.
func bounce(r *rand.Rand, n int) []float64 {
	const zeta = 0.25
	w := 2 * math.Pi * (1.5 + 1.5*r.Float64())
	waver := 0.1 + 0.4*r.Float64() // s
	out := make([]float64, n)
	x, v, u, ss := 0.0, 0.0, 0.0, 0.0
	for i := range out {
		u += -u*tick/waver + math.Sqrt(2*tick/waver)*r.NormFloat64()
		a := w*w*(u-x) - 2*zeta*w*v
		v += a * tick
		x += v * tick
		out[i] = a
		ss += a * a
	}
	unit := 1 / math.Sqrt(ss/float64(n))
	for i := range out {
		out[i] *= unit
	}
	return out
}

// weightOf returns n ticks of the load of a cat of m grams in a mood that
// changes between standing, turning and digging.
func weightOf(r *rand.Rand, m float64, n int, restless float64) []float64 {
	out := bounce(r, n)
	if restless > 1 {
		for i := range out {
			out[i] = m * (1 + 0.01*restless*r.NormFloat64())
		}
		return out
	}
	rms, left, dig := 0.0, 0, 0.0
	for i := range out {
		if left == 0 {
			left = 1 + int((2+r.ExpFloat64()*5)/tick)
			dig = 0
			switch u := r.Float64(); {
			case u < 0.55:
				rms = 0.003 + 0.005*r.Float64() + 0.02*restless
			case u < 0.85:
				rms = 0.02 + 0.03*r.Float64()
			default:
				rms, dig = 0.04+0.08*r.Float64(), 2.5+r.Float64()
			}
		}
		left--
		out[i] = m * (1 + rms*out[i])
		if dig > 0 {
			out[i] += m * rms * math.Sin(2*math.Pi*dig*float64(i)*tick)
		}
	}
	return out
}

// enter shapes the first ticks: front paws, a pause, then the rest.
func enter(r *rand.Rand, w []float64) {
	share := 0.35 + 0.2*r.Float64()
	pause := int((0.3 + r.ExpFloat64()*0.6) / tick)
	rise := ticks(0.25)
	for i := range w {
		switch {
		case i < rise:
			w[i] *= share * smooth(float64(i)/float64(rise))
		case i < rise+pause:
			w[i] *= share
		case i < 2*rise+pause:
			u := smooth(float64(i-rise-pause) / float64(rise))
			w[i] *= share + (1-share)*u + 0.25*math.Sin(math.Pi*u)
		default:
			return
		}
	}
}

// leave shapes the last ticks: stepping out in two parts, or a jump.
func leave(r *rand.Rand, w []float64) {
	n := len(w)
	if r.Float64() < 0.3 { // a jump: crouch, push, gone
		k := min(ticks(0.3), n)
		for i := range k {
			u := float64(i) / float64(k)
			w[n-k+i] *= 1 - 0.35*math.Sin(math.Pi*math.Min(1, 2*u)) + 0.9*math.Max(0, math.Sin(math.Pi*(2*u-1)))
		}
		return
	}
	share := 0.35 + 0.25*r.Float64()
	pause, fall := ticks(0.2+r.ExpFloat64()*0.5), ticks(0.25)
	for i := range n {
		back := n - 1 - i
		switch {
		case back < fall:
			w[i] *= share * smooth(float64(back)/float64(fall))
		case back < fall+pause:
			w[i] *= share
		case back < 2*fall+pause:
			w[i] *= share + (1-share)*smooth(float64(back-fall-pause)/float64(fall))
		}
	}
}

func ticks(s float64) int { return int(math.Round(s / tick)) }

func smooth(u float64) float64 { u = math.Max(0, math.Min(1, u)); return u * u * (3 - 2*u) }

// stayLength draws how long a visit lasts: 59 s on average, all but a fortieth
// under 132 s (Shin et al. 2024, J Vet Clin 41:71-78).
func stayLength(r *rand.Rand) float64 {
	for {
		if s := 52 * math.Exp(0.48*r.NormFloat64()); s > 10 && s < 240 {
			return s
		}
	}
}

// deposit draws what a visit leaves: urine, faeces or nothing (Miscanthus fibre
// trial, J Anim Physiol Anim Nutr 2020;104:715-724; Zanghi et al. 2018).
func deposit(r *rand.Rand) float64 {
	switch u := r.Float64(); {
	case u < 0.12:
		return 0
	case u < 0.65:
		return math.Max(5, 26+9*r.NormFloat64())
	}
	return math.Max(8, 34+12*r.NormFloat64())
}

func visitOf(r *rand.Rand, at, m, restless float64) force {
	n := int(stayLength(r) / tick)
	w := weightOf(r, m, n, restless)
	enter(r, w)
	leave(r, w)
	d := deposit(r)
	f := force{at: at, load: w, net: d}
	f.truth = []truth{{"visit", at, at + float64(n)*tick, m, d}}
	return f
}

// shorten cuts a visit to 5 to 15 s.
func shorten(r *rand.Rand, f force, do bool) force {
	if !do {
		return f
	}
	n := ticks(5 + 10*r.Float64())
	m := f.truth[0].mass
	f.load = weightOf(r, m, n, 0.3)
	enter(r, f.load)
	leave(r, f.load)
	f.truth[0].end = f.at + float64(n)*tick
	return f
}

// lookOf is front paws only: a share of the weight, then away again.
func lookOf(r *rand.Rand, at, m, longest float64) force {
	n := min(ticks(1.5+r.ExpFloat64()*3), ticks(12))
	if longest > 0 {
		n = ticks(3 + (longest-3)*r.Float64())
	}
	share := 0.25 + 0.35*r.Float64()
	w := weightOf(r, m, n, 0.8)
	for i := range w {
		e := math.Min(float64(i), float64(n-1-i)) * tick / 0.3
		w[i] *= share * smooth(e) * (1 + 0.1*math.Sin(float64(i)*tick*2))
	}
	return force{at: at, load: w, truth: []truth{{kind: "look", start: at, end: at + float64(n)*tick}}}
}

// turnsOf is two cats in turn, the second stepping in as the first leaves.
func turnsOf(r *rand.Rand, at, m1, m2, restless float64) force {
	a, b := visitOf(r, at, m1, restless), visitOf(r, at, m2, restless)
	gap := int((-0.5 + 3*r.Float64()) / tick) // from half a second of both to 2.5 s of neither
	shift := len(a.load) + gap
	load := make([]float64, shift+len(b.load))
	copy(load, a.load)
	for i, v := range b.load {
		load[shift+i] += v
		if shift+i >= len(a.load) {
			load[shift+i] += a.net
		}
	}
	for i := len(a.load); i < shift; i++ {
		load[i] += a.net
	}
	b.truth[0].start += float64(shift) * tick
	b.truth[0].end += float64(shift) * tick
	return force{at: at, load: load, net: a.net + b.net, truth: append(a.truth, b.truth...)}
}

// doubleOf is two at once for most of their stay.
func doubleOf(r *rand.Rand, at, m1, m2, restless float64) force {
	a, b := visitOf(r, at, m1, restless), visitOf(r, at, m2, restless)
	shift := int((1 + 0.5*r.Float64()*float64(len(a.load))*tick) / tick)
	load := make([]float64, max(len(a.load), shift+len(b.load)))
	for i := range load {
		if i < len(a.load) {
			load[i] += a.load[i]
		} else {
			load[i] += a.net
		}
		if k := i - shift; k >= 0 && k < len(b.load) {
			load[i] += b.load[k]
		} else if k >= len(b.load) {
			load[i] += b.net
		}
	}
	late := float64(shift) * tick
	return force{at: at, load: load, net: a.net + b.net, truth: []truth{
		{kind: "shared", start: at, end: a.truth[0].end, mass: m1},
		{kind: "shared", start: at + late, end: b.truth[0].end + late, mass: m2},
	}}
}

func stamp(s float64) time.Time {
	whole, frac := math.Modf(s)
	return time.Unix(epoch+int64(whole), int64(math.Round(frac*1e6))*1000).UTC()
}
