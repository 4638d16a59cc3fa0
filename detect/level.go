package detect

import (
	"math"

	"weighbeam/detect/stat"
)

// level is the filtered level as the anchor source shows it, and its standard deviation.
func (w *weights) level() (level, sd float64) {
	h := stat.Vec{levelState: 1}
	h[w.sources[w.view].state] = 1
	mean, variance := w.filter.Predict(&h)
	return mean, math.Sqrt(variance)
}

// viewDays is how many days with a weighing, the newest, have the level that is shown
// now. No sign looks at older ones: an onset is windowDays old at most, but for the days
// until that is tidied up, and what was before it is looked for in the year before.
const viewDays = windowDays + 2*365

// turnTo shows the level as source s sees it, the newest viewDays included.
func (w *weights) turnTo(s int) {
	if s == w.view {
		return
	}
	shift := w.filter.X[w.sources[s].state] - w.filter.X[w.sources[w.view].state]
	for i := max(0, len(w.past)-viewDays); i < len(w.past); i++ {
		w.past[i].level += shift
	}
	w.view = s
}

// kg turns a level into kg.
func (w *weights) kg(level float64) float64 { return math.Exp((level + w.zero) / 100) }

// mass is what a grown cat weighs, kg; ok is false where neither scales nor its keeper
// have said.
func (w *weights) mass() (kg float64, ok bool) {
	switch {
	case w.kitten:
		return 0, false
	case w.days()-w.adult >= lowDays:
		level, _ := w.level()
		return w.kg(level), true
	}
	return w.cat.WeightKg, w.cat.WeightKg > 0
}

// days is for how many days there is a weighing.
func (w *weights) days() int { return len(w.past) }

// span is the days from the first to the last day taken in, of a grown cat.
func (w *weights) span() int {
	if w.kitten || len(w.past) <= w.adult {
		return 0
	}
	return w.past[len(w.past)-1].day - w.past[w.adult].day
}
