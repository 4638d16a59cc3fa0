package visit

import (
	"math"
	"slices"
)

// segment is a stretch of frames at one level.
type segment struct {
	I, J  int     // frames I to J-1
	Level float64 // g over the old baseline
	Hold  float64 // s
}

// work is scratch for judging one episode, kept so that judging allocates little.
type work struct {
	y, h, v, d    []float64
	cost, sum, sq []float64
	weight        []float64
	from          []int
	sway          float64 // standard deviation of a frame about its level, g
	stuck         float64 // s for which the cell gave one and the same value
	cuts          []segment
}

func (w *work) size(n int) {
	if cap(w.y) >= n {
		return
	}
	floats := func(extra int) []float64 { return make([]float64, maxFrames+extra) }
	w.y, w.h, w.v, w.d = floats(0), floats(0), floats(0), floats(0)
	w.cost, w.sum, w.sq, w.weight = floats(1), floats(1), floats(1), floats(1)
	w.from = make([]int, maxFrames+1)
	w.cuts = make([]segment, 0, maxFrames)
}

const (
	holdCap   = 5.0  // s; one long held frame is not worth more than this
	cutCost   = 30.0 // penalty of a cut, in variances of a frame; frames are correlated, so well above 2 ln n
	mostNodes = 96   // places where a cut may be
	leastStep = 60.0 // g; neighbours closer than this are one level
)

// segments cuts frames into levels: the exact minimum of squared error plus a
// penalty a cut (optimal partitioning; Jackson et al., IEEE Signal Processing
// Letters 12 (2005) 105-108). Frames count by how long they held. step is the
// rounding of a scale that sends each sample, 0 for one that sends on change; band is
// the dead band of the latter.
func (w *work) segments(fr []frame, base, step, band float64) []segment {
	n := len(fr)
	w.size(n)
	w.cuts = w.cuts[:0]
	if n == 0 {
		return w.cuts
	}
	w.load(fr, base)
	v := w.spread(fr, band)
	w.sway = math.Sqrt(v)
	w.unstick(fr, step)
	unit := w.total(n)
	w.partition(n, unit, v)
	slices.Reverse(w.cuts)
	return w.merge()
}

// partition sets cuts, last first. A long stay may be cut only at every so many
// frames: who came and went is looked up in the frames themselves.
func (w *work) partition(n int, unit, v float64) {
	pen := cutCost * v
	every := (n + mostNodes - 1) / mostNodes
	nodes := (n + every - 1) / every
	end := func(node int) int { return min(node*every, n) }
	w.cost[0] = -pen
	for j := 1; j <= nodes; j++ {
		best, at, to := math.Inf(1), 0, end(j)
		wj, sj := w.weight[to], w.sum[to]
		for i := range j {
			k := i * every
			hs, sm := wj-w.weight[k], sj-w.sum[k]
			if c := w.cost[i] - (w.sq[k]+sm*sm/hs)/unit; c < best {
				best, at = c, i
			}
		}
		w.cost[j], w.from[j] = best+pen+w.sq[to]/unit, at
	}
	for j := nodes; j > 0; j = w.from[j] {
		i, k := w.from[j]*every, end(j)
		hs := w.weight[k] - w.weight[i]
		w.cuts = append(w.cuts, segment{I: i, J: k, Level: (w.sum[k] - w.sum[i]) / hs, Hold: hs})
	}
}

// load fills y and h from the frames.
func (w *work) load(fr []frame, base float64) {
	for i := range fr {
		w.y[i], w.h[i] = fr[i].mean()-base, math.Min(fr[i].Hold, holdCap)
	}
}

// total fills the running sums, and returns the usual hold of a frame.
func (w *work) total(n int) float64 {
	w.sum[0], w.sq[0], w.weight[0] = 0, 0, 0
	for i, h := range w.h[:n] {
		w.sum[i+1] = w.sum[i] + h*w.y[i]
		w.sq[i+1] = w.sq[i] + h*w.y[i]*w.y[i]
		w.weight[i+1] = w.weight[i] + h
	}
	copy(w.d, w.h[:n])
	return math.Max(median(w.d[:n]), leastHold)
}

// unstick takes the weight from stretches in which the cell gave one and the same
// value for longer than chance allows at this sway.
func (w *work) unstick(fr []frame, step float64) {
	w.stuck = 0
	if step <= 0 {
		return
	}
	same := math.Min(0.9, math.Max(step, 0.1)/(3*w.sway)) // the chance that two samples agree
	for i := 0; i < len(fr); {
		j, n, hold := i, 0, 0.0
		for ; j < len(fr) && fr[j].Lo == fr[j].Hi && fr[j].Lo == fr[i].Lo; j++ {
			n += fr[j].N
			hold += fr[j].Hold
		}
		if hold >= 2 && n >= 4 && math.Pow(same, float64(n-1)) < 1e-4 {
			w.stuck += hold
			for k := i; k < j; k++ {
				w.h[k] = leastHold
			}
		}
		i = max(j, i+1)
	}
}

// spread is the variance of a frame about its level, robustly: from the median
// of the differences of neighbours, which a step hardly touches. Where a scale that
// sends on change says nothing for a while, the load kept within its dead band: that
// counts as so many small differences, or a cat that stands still would be judged by
// its steps in and out alone.
func (w *work) spread(fr []frame, band float64) float64 {
	n := len(fr)
	if n < 2 {
		return 400
	}
	for i := 1; i < n; i++ {
		w.d[i-1] = math.Abs(w.y[i] - w.y[i-1])
	}
	d := w.d[:n-1]
	if band > 0 {
		for i := range fr {
			for kept := fr[i].Hold - frameLen; kept >= frameLen && len(d) < cap(d); kept -= frameLen {
				d = append(d, band/2)
			}
		}
	}
	s := median(d) / (math.Sqrt2 * 0.6745)
	return math.Max(s*s, 400)
}

// merge joins neighbours at the same level.
func (w *work) merge() []segment {
	out := w.cuts[:0]
	for _, c := range w.cuts {
		if n := len(out); n > 0 {
			l := &out[n-1]
			if math.Abs(l.Level-c.Level) < math.Max(leastStep, 0.015*math.Abs(c.Level)) {
				l.Level = (l.Level*l.Hold + c.Level*c.Hold) / (l.Hold + c.Hold)
				l.Hold += c.Hold
				l.J = c.J
				continue
			}
		}
		out = append(out, c)
	}
	w.cuts = out
	return out
}
