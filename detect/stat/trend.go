package stat

import "math"

// Trend describes a series of any kind: where it stands, where it is going, since
// when, and when it changed before.
type Trend struct {
	N     int    // samples used
	Shape string // "level", "line" or "joined": what the segments are

	Level          float64 // at the last sample
	Pace           float64 // per unit of time, at the last sample; 0 where the segments are levels
	PaceLo, PaceHi float64 // 90 % interval, other descriptions than that of the segments taken in

	Changed          bool    // there was a change; the next three have a meaning
	Onset            float64 // time at which what goes on now began
	OnsetLo, OnsetHi float64 // 90 % interval, the same

	Changepoints []int    // indexes, each the first sample of a new segment
	Intervals    [][2]int // 90 % interval of each of them
	Segments     []TrendSegment
	Outliers     []int // indexes of samples that were set aside
}

// TrendSegment is a stretch of a [Trend] from the sample Start up to, and not
// with, the sample End.
type TrendSegment struct {
	Start, End int
	Level      float64 // fitted, at the first sample
	Slope      float64 // per unit of time
}

// The shapes of a [Trend].
const (
	ShapeLevel  = "level"  // each segment has a level of its own
	ShapeLine   = "line"   // each segment has a line of its own, with jumps between
	ShapeJoined = "joined" // lines that meet where one goes over into the next
)

// DescribeTrend fits levels, lines and joined lines with any number of changes,
// and takes what the Bayes information criterion prefers, in which a change
// costs two parameters beside those of its segment, since its place was searched
// for (after Zhang & Siegmund 2007), and in which correlated samples count for
// as many as they are worth (see [EffectiveN]). Spikes are set aside first.
//
// times must ascend; the indexes in the result are those of the arguments, of
// which pairs that are not finite are left out. With fewer than three samples, or
// times that do not ascend, only N, and Level where there is a sample, are set.
func DescribeTrend(times, values []float64) Trend {
	t, y, at := usable(times, values)
	trend := Trend{N: len(y)}
	if len(y) > 0 {
		trend.Level = y[len(y)-1]
	}
	if len(y) < 3 {
		return trend
	}
	pauses := gapsBefore(t, at)
	u := unitsOf(t, y)
	clean, spikes := withoutSpikes(u.scale(t, y))
	for _, i := range spikes {
		trend.Outliers = append(trend.Outliers, at[i])
	}
	series := newThinned(t, clean)
	all := series.candidates()
	best, rho := choose(all)
	best.describe(&trend, series, rho)
	onset := widen(&trend, rivals(all, rho), series, newSums(series.t, series.y), rho)
	trend.place(series, at)
	trend.restore(u)
	if n := len(trend.Changepoints); n > 0 {
		v := [2]int{series.first(onset[0], at), series.first(onset[1], at)}
		trend.Changed = true
		trend.Onset, trend.OnsetLo, trend.OnsetHi = times[trend.Changepoints[n-1]], times[v[0]], times[v[1]]
		if before, ok := pauses[v[0]]; ok {
			trend.OnsetLo = before
		}
	}
	return trend
}

// longGap is how many times the usual spacing is a gap in which a change may have
// begun unseen: what goes on after it is then no older than the sample before.
const longGap = 3

// gapsBefore gives, for each place in the arguments after a long gap, the time of the
// sample before it.
func gapsBefore(t []float64, at []int) map[int]float64 {
	spacing := make([]float64, len(t)-1)
	for i := range spacing {
		spacing[i] = t[i+1] - t[i]
	}
	usual := Median(spacing)
	gaps := map[int]float64{}
	for i, d := range spacing {
		if d > longGap*usual {
			gaps[at[i+1]] = t[i]
		}
	}
	return gaps
}

// usable are the finite pairs with ascending times and their places in the
// arguments, samples at one time taken for their mean; none where times go back.
func usable(times, values []float64) (t, y []float64, at []int) {
	var same []float64
	for i := range min(len(times), len(values)) {
		if !isFinite(times[i]) || !isFinite(values[i]) {
			continue
		}
		n := len(t)
		switch {
		case n > 0 && times[i] < t[n-1]:
			return nil, nil, nil
		case n > 0 && times[i] == t[n-1]:
			same = append(same, values[i])
			y[n-1] = average(same)
			continue
		}
		same = []float64{values[i]}
		t, y, at = append(t, times[i]), append(y, values[i]), append(at, i)
	}
	return t, y, at
}

// thinned is a series of at most mostSamples: a longer one is cut in runs of
// equal count, each taken for its mean.
type thinned struct {
	t, y []float64
	run  int // samples in each, the last may have fewer
}

const mostSamples = 600

func newThinned(t, y []float64) thinned {
	s := thinned{t: t, y: y, run: (len(y) + mostSamples - 1) / mostSamples}
	if s.run <= 1 {
		return s
	}
	s.t, s.y = nil, nil
	for i := 0; i < len(y); i += s.run {
		j := min(i+s.run, len(y))
		s.t, s.y = append(s.t, average(t[i:j])), append(s.y, average(y[i:j]))
	}
	return s
}

// units are what times and values are counted in while fitting, so that neither
// an epoch nor huge or tiny values cost digits or overflow.
type units struct{ start, span, size float64 }

func unitsOf(t, y []float64) units {
	u := units{start: t[0], span: t[len(t)-1]/2 - t[0]/2}
	for _, v := range y {
		u.size = max(u.size, math.Abs(v))
	}
	if u.size == 0 {
		u.size = 1
	}
	return u
}

// scale turns times in place, and returns the values, counted in u.
func (u units) scale(t, y []float64) []float64 {
	out := make([]float64, len(y))
	for i := range y {
		t[i] = (t[i]/2 - u.start/2) / u.span
		out[i] = y[i] / u.size
	}
	return out
}

// restore turns levels and paces counted in u back.
func (tr *Trend) restore(u units) {
	perTime := u.size / u.span / 2
	tr.Level *= u.size
	tr.Pace, tr.PaceLo, tr.PaceHi = tr.Pace*perTime, tr.PaceLo*perTime, tr.PaceHi*perTime
	for i := range tr.Segments {
		tr.Segments[i].Level *= u.size
		tr.Segments[i].Slope *= perTime
	}
}

// first is the place in the arguments of the first sample of run i.
func (s thinned) first(i int, at []int) int { return at[min(i*s.run, len(at)-1)] }

// place turns the indexes of the thinned series into those of the arguments.
func (tr *Trend) place(s thinned, at []int) {
	first := func(i int) int { return s.first(i, at) }
	for i := range tr.Segments {
		g := &tr.Segments[i]
		g.Start = first(g.Start)
		if i > 0 {
			tr.Segments[i-1].End = g.Start
			tr.Changepoints[i-1] = g.Start
			v := &tr.Intervals[i-1]
			v[0], v[1] = first(v[0]), first(v[1])
		}
		g.End = at[len(at)-1] + 1
	}
}
