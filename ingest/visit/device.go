package visit

import "math"

// device is what a stream of samples tells about the scale that sends it: how
// often it samples, its rounding step, whether it sends only on change, its noise.
type device struct {
	Steps   [stepBins]float64 // how often |difference of two samples close in time| fell in each half octave, from 0.5 g
	Waits   [waitBins]float64 // how often the wait between two samples fell in each octave, from 1 ms
	Quantum float64           // smallest step seen, g; 0 for none yet
	Fresh   float64           // the same since the histograms were last halved
	Noise   float64           // standard deviation of one sample on an empty scale, g

	Band float64 // dead band of a scale that sends on change, g; 0 for one that sends anyway
	Hold float64 // how long a sample may stand for the load, s
	Seen int     // samples since the last look at the histograms
}

const (
	stepBins = 24
	waitBins = 20

	firstNoise   = 3.0   // g, until the empty scale has shown its own
	leastNoise   = 0.3   // g; a cell that shows less is rounding
	mostRounding = 100.0 // g; a larger step was a load
	closeBy      = 2.0   // s; samples further apart say nothing about a dead band
	restudy      = 64    // samples between two looks at the histograms
	longHold     = 30.0  // s a value sent on change may stand for the load in a stay
)

func newDevice() device { return device{Noise: firstNoise, Hold: 2} }

// learn takes in the step g and the wait dt s between two samples.
func (d *device) learn(g, dt float64) {
	g = math.Abs(g)
	if g > 0.05 && g < mostRounding {
		d.Quantum, d.Fresh = least(d.Quantum, g), least(d.Fresh, g)
	}
	if dt <= closeBy {
		d.Steps[halfOctave(g/0.5)]++
	}
	if dt <= 8 {
		d.Waits[octave(dt*1000)]++
	}
	d.Seen++
	if d.Seen >= restudy {
		d.study()
	}
}

// study draws Band and Hold from the histograms. A scale that sends on change
// has next to no small steps; one that sends anyway has many, moving cat or not.
func (d *device) study() {
	d.Seen = 0
	total, small := 0.0, 0.0
	for _, n := range d.Steps {
		total += n
	}
	d.Band = 0
	for i, n := range d.Steps {
		small += n
		if total < 60 || small > 0.005*total+0.5 {
			if edge := 0.5 * math.Pow(2, float64(i)/2); total >= 60 && edge >= 8 {
				d.Band = edge
			}
			break
		}
	}
	d.Hold = longHold
	if d.Band == 0 {
		d.Hold = 2.5 * d.wait()
	}
	if total > 8192 { // forget slowly: a device may be replaced or set up anew
		for i := range d.Steps {
			d.Steps[i] /= 2
		}
		for i := range d.Waits {
			d.Waits[i] /= 2
		}
		d.Quantum, d.Fresh = d.Fresh, 0
	}
}

// wait is the usual time between samples in s, rounded up to an octave.
func (d *device) wait() float64 {
	total := 0.0
	for _, n := range d.Waits {
		total += n
	}
	sum := 0.0
	for i, n := range d.Waits {
		if sum += n; sum > total/2 {
			return 0.001 * math.Pow(2, float64(i+1))
		}
	}
	return 1
}

// least is the smaller of a and b, where 0 stands for none.
func least(a, b float64) float64 {
	if a == 0 {
		return b
	}
	return math.Min(a, b)
}

// rounding is the standard uncertainty of one rounded sample, g.
func (d *device) rounding() float64 { return d.Quantum / math.Sqrt(12) }

func octave(v float64) int     { return bin(v, 1, waitBins) }
func halfOctave(v float64) int { return bin(v, 2, stepBins) }

func bin(v float64, perOctave, bins int) int {
	if v < 1 {
		return 0
	}
	frac, exp := math.Frexp(v) // v = frac * 2^exp, frac in [0.5, 1)
	i := perOctave * (exp - 1)
	if perOctave == 2 && frac >= math.Sqrt2/2 {
		i++
	}
	return min(i, bins-1)
}
