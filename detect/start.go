package detect

import (
	"math"
	"slices"

	"weighbeam/detect/stat"
)

// startDays is for how many days a robust start is sought. A first weighing may
// be another cat's or a scale's error, and the filter begins with it: on the
// days of startChecks the level is held to the median of all days so far.
const startDays = 9

var startChecks = []int{3, 5, startDays}

// startRight keeps what was measured on the first days and sets the level right
// where the median of them says that the filter began with an error.
func (w *weights) startRight() {
	if w.kitten || len(w.early) >= startDays || len(w.bin) == 0 {
		return
	}
	var ys, ps []float64
	for _, u := range w.bin {
		if u.source == w.bin[0].source {
			ys, ps = append(ys, u.y), append(ps, u.named)
		}
	}
	mid := stat.WeightedMedian(ys, ps)
	if math.IsNaN(mid) {
		return
	}
	w.early, w.earlyWorth = append(w.early, mid), append(w.earlyWorth, slices.Max(ps))
	if !slices.Contains(startChecks, len(w.early)) {
		return
	}
	mid = stat.WeightedMedian(w.early, w.earlyWorth)
	src := &w.sources[w.bin[0].source]
	h := stat.Vec{levelState: 1}
	h[src.state] = 1
	level, variance := w.filter.Predict(&h)
	off := mid - level
	if sd := math.Sqrt(variance + src.trade.noise*src.trade.noise); math.Abs(off) < 2*sd {
		return
	}
	w.filter.X[levelState] += off
	w.filter.P[levelState][levelState] += src.trade.noise * src.trade.noise
	w.ramps.Forget(float64(w.day))
	for i := w.adult; i < len(w.past); i++ {
		w.past[i].r = math.Inf(1) // the trend does not begin with an error either
	}
	w.adult = len(w.past)
}
