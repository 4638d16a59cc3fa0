package stat

import (
	"math"
	"sort"
)

// Rise is what a [Rises] makes of a rise, averaged over models, onsets and paces
// by their posterior probability. The intervals are central, at the confidence
// asked for.
type Rise struct {
	Before           float64 // usual level before the onset
	Now              float64 // the level at the last value, wander left out
	Change           float64 // Now - Before
	Pace             float64 // units a week, median
	PaceLo, PaceHi   float64
	Onset            float64 // days, median
	OnsetLo, OnsetHi float64
}

// estimatePaces is the finer grid of paces an estimate is made on: equal steps
// of the logarithm, each as likely as the next before anything is seen.
var estimatePaces = func() []float64 {
	var p []float64
	for x := 0.15; x < 8; x *= 1.18 {
		p = append(p, x)
	}
	return p
}()

// Estimate describes the rise, given that there is one. ok is false where there
// are too few values to say.
func (r *Rises) Estimate(confidence float64) (e Rise, ok bool) {
	if r.n < 3 || r.started == 0 || !(confidence > 0 && confidence < 1) {
		return e, false
	}
	byPace := make([]float64, len(estimatePaces))
	byOnset := make([]float64, r.started)
	total := 0.0
	for i, w := range r.weights() {
		if w == 0 {
			continue
		}
		m := &r.models[i]
		for k := range r.started {
			s := &m.onsets[k]
			risen := max(0, r.last-r.onsets[k]) / 7
			for j, pace := range estimatePaces {
				p := w * r.share(k) * s.ratio(pace)
				byPace[j] += p
				byOnset[k] += p
				total += p
				e.Before += p * (m.level - pace*s.level)
				e.Change += p * pace * risen
			}
		}
	}
	if !(total > 0) || math.IsInf(total, 1) {
		return Rise{}, false
	}
	e.Before /= total
	e.Change /= total
	e.Now = e.Before + e.Change
	tail := (1 - confidence) / 2
	logs := make([]float64, len(estimatePaces))
	for j, pace := range estimatePaces {
		logs[j] = math.Log(pace)
	}
	e.PaceLo = math.Exp(gridQuantile(logs, byPace, tail))
	e.Pace = math.Exp(gridQuantile(logs, byPace, 0.5))
	e.PaceHi = math.Exp(gridQuantile(logs, byPace, 1-tail))
	e.OnsetLo = gridQuantile(r.onsets[:r.started], byOnset, tail)
	e.Onset = gridQuantile(r.onsets[:r.started], byOnset, 0.5)
	e.OnsetHi = gridQuantile(r.onsets[:r.started], byOnset, 1-tail)
	return e, true
}

// gridQuantile is the quantile p of a density known by its weight at ascending
// grid points, each weight spread evenly over the half-way cell about its point.
func gridQuantile(x, weight []float64, p float64) float64 {
	total := 0.0
	for _, w := range weight {
		total += w
	}
	sum := make([]float64, len(x))
	run := 0.0
	for i, w := range weight {
		run += w / total
		sum[i] = run
	}
	i := min(sort.SearchFloat64s(sum, p), len(x)-1)
	lo, hi := cellEdge(x, i), cellEdge(x, i+1)
	before := 0.0
	if i > 0 {
		before = sum[i-1]
	}
	if sum[i] == before {
		return lo
	}
	return lo + (hi-lo)*(p-before)/(sum[i]-before)
}

// cellEdge is the lower edge of the cell of grid point i.
func cellEdge(x []float64, i int) float64 {
	n := len(x)
	switch {
	case n == 1:
		return x[0]
	case i == 0:
		return x[0] - (x[1]-x[0])/2
	case i == n:
		return x[n-1] + (x[n-1]-x[n-2])/2
	}
	return x[i-1] + (x[i]-x[i-1])/2
}

// Level is the usual level with the wander as it stands now, were there no rise,
// and its standard deviation.
func (r *Rises) Level() (mean, sd float64) {
	var square, within float64
	for i, w := range r.weights() {
		m := &r.models[i]
		v := m.level + m.wander
		mean += w * v
		square += w * v * v
		within += w * (m.pll + 2*m.plw + m.pww)
	}
	return mean, math.Sqrt(max(0, square-mean*mean) + within)
}
