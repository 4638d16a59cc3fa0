package detect

import (
	"math"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// z90 is the half width of a central 90 % interval of a normal distribution.
const z90 = 1.6448536269514722

// vague is the standard deviation, in percent, over which a level is no knowledge
// of a weight: days of weighings that were almost surely other cats'.
const vague = 50.0

// outlook adds what is known of the weight.
func (w *weights) outlook(now time.Time, out *home.Outlook) {
	out.LastKg = w.last
	if len(w.past) > 0 {
		if level, sd := w.level(); sd <= vague {
			out.Weight = home.Figure{Known: true, Value: w.kg(level), Lo: w.kg(level - z90*sd), Hi: w.kg(level + z90*sd)}
		}
	}
	out.Month, out.Year = w.changeOver(28), w.changeOver(365)
	if w.kitten {
		out.Unknown = append(out.Unknown, unknownWhileGrowing)
	} else if !w.ready() {
		out.Unknown = append(out.Unknown, unknownWeight(learnSpan-w.span(), learnVisits-int(w.n)))
	} else {
		out.Learned = append(out.Learned, learnedWeight(int(math.Round(w.n)), w.wander.SD))
	}
	if w.doubt > muchDoubt {
		out.Unknown = append(out.Unknown, unknownNames)
	}
	if w.span() < settleDays {
		out.Unknown = append(out.Unknown, unknownReference(settleDays-w.span()))
	}
}

// muchDoubt is the share of other cats' visits from which little can be said of
// one cat alone.
const muchDoubt = 0.25

func (w *weights) changeOver(days int) home.Change {
	if !w.ready() {
		return home.Change{}
	}
	c, sd, ok := w.change(days)
	return home.Change{Known: ok, Pct: percent(c), Lo: percent(c - z90*sd), Hi: percent(c + z90*sd)}
}

// trend smooths the days, each with the wander that was in use.
func (w *weights) trend() []home.TrendPoint {
	days := make([]stat.Day, 0, len(w.past))
	for _, p := range w.past {
		if p.r <= vague*vague {
			days = append(days, stat.Day{Time: float64(p.day), Value: p.y, Variance: p.r, Wander: p.wander})
		}
	}
	shown := 0.0
	if len(w.past) > 0 {
		shown = w.filter.X[w.sources[w.view].state]
	}
	points := make([]home.TrendPoint, 0, len(days))
	for i, s := range stat.SmoothLevel(days) {
		sd := math.Sqrt(s.Variance)
		level := s.Level + shown
		points = append(points, home.TrendPoint{
			Time: dateOf(days[i].Time), Value: w.kg(level), Lo: w.kg(level - z90*sd), Hi: w.kg(level + z90*sd),
		})
	}
	return points
}
