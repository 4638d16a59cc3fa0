package simulator

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
)

// dice is a stream of random numbers with a purpose of its own, so that drawing
// one thing more often never shifts another.
type dice struct{ *rand.Rand }

func newDice(seed uint64, purpose string, n uint64) dice {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return dice{rand.New(rand.NewPCG(mix(seed^h.Sum64()), mix(n+1)))}
}

// mix spreads neighbouring numbers over all bits (the finaliser of SplitMix64,
// Steele, Lea and Flood 2014), because seeds and serial numbers are neighbours.
func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

func (d dice) between(lo, hi float64) float64 { return lo + (hi-lo)*d.Float64() }

func (d dice) normal(mean, sd float64) float64 { return mean + sd*d.NormFloat64() }

// lognormal has the given median; sigma is the spread of its logarithm.
func (d dice) lognormal(median, sigma float64) float64 {
	return median * math.Exp(sigma*d.NormFloat64())
}

func (d dice) chance(p float64) bool { return d.Float64() < p }

// poisson counts arrivals of mean m by Knuth's product of uniforms; m is small here.
func (d dice) poisson(m float64) int {
	limit, product, n := math.Exp(-m), d.Float64(), 0
	for product > limit {
		product *= d.Float64()
		n++
	}
	return n
}

func clamp(v, lo, hi float64) float64 { return math.Min(math.Max(v, lo), hi) }

// round cuts v to whole steps, of which a whole number makes one, as a device or
// a person writes it down. A step of zero leaves v as it is.
func round(v, step float64) float64 {
	if step == 0 {
		return v
	}
	// Dividing by the inverse gives the decimal a person would type, 4.1 and not 4.1000000000000005.
	inverse := math.Round(1 / step)
	return math.Round(v*inverse) / inverse
}
