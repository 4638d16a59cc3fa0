package visit_test

import (
	"math"
	"math/rand/v2"
)

// handsOf is a person leaning on the box while they take out or put in; net may be 0.
func handsOf(r *rand.Rand, at, net, steady float64, kind string) force {
	n := int((8 + 30*r.Float64()) / tick)
	lean := 2000 + 4000*r.Float64()
	cv, lets := 0.08+0.3*r.Float64(), 1/4.0
	if steady > 0 {
		cv, lets = steady, 0
	}
	load := make([]float64, n)
	ou, touch := 0.0, 1.0
	for i := range load {
		ou += -ou*tick/1.5 + cv*math.Sqrt(2*tick/1.5)*r.NormFloat64()
		if r.Float64() < tick*lets { // now and then the hand lets go or leans in again
			touch = 0.2 + 0.8*r.Float64()
		}
		e := math.Min(float64(i), float64(n-1-i)) * tick / 0.5
		load[i] = lean*math.Max(0, touch+ou)*smooth(e) + net*float64(i)/float64(n)
	}
	return force{at: at, load: load, net: net, truth: []truth{{kind: kind, start: at, end: at + float64(n)*tick}}}
}

// liftOf is the box taken off, away for a while, and put back changed by net.
func liftOf(r *rand.Rand, at, box, net float64, kind string) force {
	n := int((15 + 120*r.Float64()) / tick)
	load := make([]float64, n)
	for i := range load {
		e := math.Min(float64(i), float64(n-1-i)) * tick / 0.6
		load[i] = -box * smooth(e)
		if i > n/2 {
			load[i] += net * (1 - smooth(e))
		}
		if e < 1.5 && e > 0.5 {
			load[i] += 600 * r.Float64()
		}
	}
	return force{at: at, load: load, net: net, truth: []truth{{kind: kind, start: at, end: at + float64(n)*tick}}}
}

// knockOf is a push on the box that rings out.
func knockOf(r *rand.Rand, at float64) force {
	n := ticks(1.5)
	load := make([]float64, n)
	amp, f := 300+2500*r.Float64(), 3+4*r.Float64()
	for i := range load {
		s := float64(i) * tick
		load[i] = amp * math.Exp(-s/0.25) * math.Cos(2*math.Pi*f*s)
	}
	return force{at: at, load: load, truth: []truth{{kind: "knock", start: at, end: at + 1.5}}}
}

// pawOf is a paw from outside: some hundred grams, on and off.
func pawOf(r *rand.Rand, at float64) force {
	n := int((1 + 5*r.Float64()) / tick)
	load := make([]float64, n)
	amp := 80 + 400*r.Float64()
	for i := range load {
		load[i] = amp * math.Pow(math.Sin(float64(i)*tick*3), 2)
	}
	return force{at: at, load: load, truth: []truth{{kind: "paw", start: at, end: at + float64(n)*tick}}}
}
