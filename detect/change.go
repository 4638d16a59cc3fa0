package detect

import (
	"math"
	"slices"
	"sort"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// today is the number of the last day taken in.
func (w *weights) today() float64 { return float64(w.past[len(w.past)-1].day) }

// ready reports whether enough was seen to judge a change.
func (w *weights) ready() bool { return w.span() >= learnSpan && w.n >= learnVisits }

// caution is what a threshold is multiplied by: the scatter that the model did
// not expect of this cat, and more in the first months, while a restless cat may
// still be taken for a quiet one.
func (w *weights) caution() float64 {
	return w.excess * (1 + newness*math.Exp(-float64(w.span()-learnSpan)/newDays))
}

const (
	newness = 0.4
	newDays = 35.0
)

// at is the point of the last day not after day d.
func (w *weights) at(d int) (dayPoint, bool) {
	i := sort.Search(len(w.past), func(i int) bool { return w.past[i].day > d })
	if i == 0 {
		return dayPoint{}, false
	}
	return w.past[i-1], true
}

// change is the change of the level over the last days, percent, with its
// standard deviation; ok is false where nothing was known so long ago.
func (w *weights) change(days int) (change, sd float64, ok bool) {
	if len(w.past) == 0 {
		return 0, 0, false
	}
	now := w.past[len(w.past)-1]
	then, ok := w.at(now.day - days)
	if !ok || now.day-then.day > 2*days {
		return 0, 0, false
	}
	return now.level - then.level, math.Hypot(now.sd, then.sd), true
}

// since is how many days with a weighing there are from t on.
func (w *weights) since(t time.Time) int {
	d := dayOf(t)
	i := sort.Search(len(w.past), func(i int) bool { return w.past[i].day >= d })
	return len(w.past) - i
}

// changeFinding fills the figures of a ramp that p describes. before is the
// level before it, percent.
func (w *weights) changeFinding(p stat.RampProfile, before, sure float64) home.Finding {
	level, _ := w.level()
	f := home.Finding{
		Onset: dateOf(p.Onset.Mid), OnsetLo: dateOf(p.Onset.Lo), OnsetHi: dateOf(p.Onset.Hi),
		ChangePct: percent(level - before),
		Rate:      percent(7 * p.Slope.Mid), RateLo: percent(7 * p.Slope.Lo), RateHi: percent(7 * p.Slope.Hi),
		RateUnit: "%/week",
		Before:   w.kg(before), After: w.kg(level), LevelUnit: "kg",
		Confidence: sure,
	}
	f.Data = w.since(f.Onset)
	f.Warnings = w.warnings(f)
	return f
}

// track makes the level follow a change that was found: it moves to where the
// ramp says it is, and may then move quickly, until the change is over.
func (w *weights) track(p stat.RampProfile) {
	w.filter.X[levelState] += p.Lag.Mid
	sd := (p.Lag.Hi - p.Lag.Lo) / (2 * z90)
	w.filter.P[levelState][levelState] += sd * sd
	w.past[len(w.past)-1].level, w.past[len(w.past)-1].sd = w.level()
	w.settle()
	w.moving = true
}

// settle ends what track began: what was told is not told again.
func (w *weights) settle() {
	w.moving = false
	w.ramps.Forget(w.today())
}

// paceSince sets the pace of f to that of the last four weeks, once so long has
// passed since day raised.
func (w *weights) paceSince(f *home.Finding, raised int) {
	const weeks = 4
	c, sd, ok := w.change(7 * weeks)
	if !ok || w.day-raised < 7*weeks {
		return
	}
	f.Rate, f.RateLo, f.RateHi = percent(c/weeks), percent((c-z90*sd)/weeks), percent((c+z90*sd)/weeks)
}

// dateOf is the start of the day after day d has ended: where a ramp from d begins.
func dateOf(d float64) time.Time {
	return time.Unix(int64(math.Round(d*86400)), 0).UTC().Truncate(time.Hour)
}

// warnings says what would make a change of weight wrong.
func (w *weights) warnings(f home.Finding) []string {
	var out []string
	if len(w.sources) == 1 {
		out = append(out, warnOneScale)
	} else if w.mixed(dayOf(f.Onset)) {
		out = append(out, warnMixedSources)
	}
	if w.doubt > doubtful {
		out = append(out, warnNames)
	}
	if z := w.plainly(f.Onset); !math.IsNaN(z) && !plain(z, f.ChangePct) {
		out = append(out, warnFaint)
	}
	if f.Data < 10 {
		out = append(out, warnFewDays(f.Data))
	}
	if w.span() < 60 {
		out = append(out, warnShortHistory(w.span()))
	}
	return append(out, warnKnownCause)
}

// doubtful is the share of other cats' visits from which a change may be theirs.
const doubtful = 0.1

// plainZ is the robust z from which a change is plain to a simple comparison.
const plainZ = 2.0

// plain reports whether a robust z shows a change that goes the way of change.
func plain(z, change float64) bool { return z*change > 0 && math.Abs(z) >= plainZ }

// plainWords says where the second voice agrees; where it does not, a warning does.
func (w *weights) plainWords(f home.Finding) string {
	if z := w.plainly(f.Onset); plain(z, f.ChangePct) {
		return agrees("the last week with the weeks before")
	}
	return ""
}

// plainly is a second, independent voice, without any model: the robust z of the
// last week against the weeks before the onset. It confirms or doubts, and raises
// nothing by itself: docs/adr/0007 has what it was measured to cost. NaN where there
// is too little.
func (w *weights) plainly(onset time.Time) float64 {
	const recent, baseline = 7, 42
	newer := w.observed(int(w.today())-recent, int(w.today()))
	d := dayOf(onset)
	return stat.RobustZ(newer, w.observed(d-baseline, min(d, int(w.today())-recent)))
}

// observed is what was measured on the days after from, to day to.
func (w *weights) observed(from, to int) []float64 {
	var out []float64
	for i := len(w.past) - 1; i >= 0 && w.past[i].day > from; i-- {
		if p := w.past[i]; p.day <= to && !math.IsInf(p.r, 1) {
			out = append(out, p.y)
		}
	}
	slices.Reverse(out)
	return out
}

// mixed reports whether a source was first used after day d.
func (w *weights) mixed(d int) bool {
	for _, s := range w.sources {
		if s.first > d {
			return true
		}
	}
	return false
}
