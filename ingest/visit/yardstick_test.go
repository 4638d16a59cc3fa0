package visit_test

import (
	"math"
	"slices"

	"weighbeam/home"
)

// yardstick is what anyone would write first: 40 lines with a threshold. Its
// figures stand beside the tracker's in the golden table.
type yardstick struct {
	base, start, last float64
	load, after       []float64
	known             bool
	odd               int // samples in a row far from the baseline
	open              *home.Visit
	emit              func(home.Visit)
}

func (y *yardstick) step(at, g float64) {
	defer func() { y.last = at }()
	switch d := g - y.base; {
	case !y.known:
		y.base, y.known = g, true
	case d > 1000:
		y.flush()
		if len(y.load) == 0 {
			y.start = at
		}
		if y.load = append(y.load, d); at-y.start > 600 {
			y.base, y.load = g, y.load[:0]
		}
	case len(y.load) > 0:
		if y.last-y.start >= 5 && median(y.load) < 10000 {
			y.open = &home.Visit{Event: home.CatVisit, Start: stamp(y.start), End: stamp(y.last), MassKg: median(y.load) / 1000, SDKg: 0.02}
		}
		y.load = y.load[:0]
	case y.open != nil && math.Abs(d) < 300:
		if y.after = append(y.after, g); len(y.after) >= 10 {
			y.flush()
		}
	case math.Abs(d) < 300:
		y.base, y.odd = y.base+0.1*d, 0
	case y.odd < 20:
		y.odd++
	default:
		y.base, y.odd = g, 0
	}
}

func (y *yardstick) flush() {
	defer func() { y.open, y.after = nil, y.after[:0] }()
	if y.open == nil {
		return
	}
	if len(y.after) > 0 {
		now := median(y.after)
		y.open.LeftG, y.open.HasLeft = now-y.base, true
		y.base = now
	}
	if y.open.LeftG > -30 && y.open.LeftG < 200 { // else somebody scooped or filled
		y.emit(*y.open)
	}
}

func median(v []float64) float64 { return quantile(slices.Clone(v), 0.5) }
