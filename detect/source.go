package detect

import (
	"math"
	"slices"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// source is one place that weighs the cat: how noisy it is, and which state of
// the filter holds its bias.
type source struct {
	name  string
	state int
	noise stat.Spread // of weighings, in units of their nominal variance
	uses  float64
	first int // day of its first weighing
	trade trade
}

// trade is what is taken of a kind of source before its own weighings are known,
// in percent of body weight: common practice, no published source. A person who
// weighs twice and subtracts is far noisier than a scale a cat stands on.
type trade struct {
	noise float64 // where the weighing states no uncertainty
	bias  float64
}

var (
	deviceTrade = trade{noise: 1.1, bias: 1}
	clinicTrade = trade{noise: 1.0, bias: 1.5}
	handTrade   = trade{noise: 2.2, bias: 2.5}
)

const (
	bodyNoise   = 0.6   // what posture, meal, urine and fur do to an exact scale, percent
	biasDrift   = 0.003 // percent a day
	priorVisits = 6     // how many weighings the pooled noise is worth
	nameSD      = 1.5   // percent, of the error where no name is sure
	nameDays    = 40.0  // for how long it lasts
	nameKeeps   = 30.0  // weighings
	outlierSD   = 8.0   // percent
	outlierRate = 0.015
)

// leastNamed is the probability under which a weighing is another cat's: it would
// weigh nothing here, and its variance would be without bound.
const leastNamed = 1e-6

// visit is one weighing of the open day.
type visit struct {
	source int
	y      float64 // percent log weight from zero
	v      float64 // nominal variance
	named  float64 // probability that it is of this cat
	at     int64
}

func (w *weights) visit(m home.Weighing) visit {
	s := w.source(m.Source)
	v := w.sources[s].trade.noise * w.sources[s].trade.noise
	if m.SDKg > 0 && m.SDKg < m.Kg {
		stated := 100 * m.SDKg / m.Kg
		v = stated*stated + bodyNoise*bodyNoise
	}
	named := min(m.Confidence, 1)
	if !(named >= leastNamed) {
		named = 0
	}
	return visit{source: s, y: 100*math.Log(m.Kg) - w.zero, v: v, named: named, at: m.Time.UnixNano()}
}

// source returns the index of the named source, which joins the model when it
// is new. The last place of the filter is shared by all that come later.
func (w *weights) source(name string) int {
	i := slices.IndexFunc(w.sources, func(s source) bool { return s.name == name })
	if i >= 0 {
		return i
	}
	s := source{name: name, first: w.day, trade: tradeOf(name), state: w.filter.N - 1}
	if w.filter.N < stat.MaxState {
		s.state = w.filter.Append(0, s.trade.bias*s.trade.bias)
	}
	s.noise = stat.Spread{Pooled: 1, Weight: priorVisits, Memory: 400}
	w.sources = append(w.sources, s)
	return len(w.sources) - 1
}

func tradeOf(name string) trade {
	switch name {
	case home.Hand:
		return handTrade
	case home.Clinic:
		return clinicTrade
	}
	return deviceTrade
}

// anchor is the source whose view of the level is shown: the device that
// weighed most, lately.
func (w *weights) anchor() int {
	best, most := 0, -1.0
	for i, s := range w.sources {
		uses := s.uses
		if s.name == home.Hand || s.name == home.Clinic {
			uses /= 1000
		}
		if uses > most {
			best, most = i, uses
		}
	}
	return best
}

// anchorFade lets a scale that is no longer used lose the anchor in months.
const anchorFade = 0.99

// measured is what a source said of a day: the mean of its weighings less its
// bias, the variance with which it moved the filter, and the variance it has.
// The bank learns with the latter: what is far off is just what tells a restless
// cat from a quiet one.
type measured struct{ y, r, plain float64 }

// observe takes the weighings of source s on the open day into the filter.
func (w *weights) observe(s int) (m measured, ok bool) {
	src := &w.sources[s]
	src.uses *= anchorFade
	h := stat.Vec{levelState: 1, wanderState: 1, nameState: 1}
	h[src.state] = 1
	mean, variance := w.filter.Predict(&h)
	c := w.combine(s, mean, variance)
	if c.named == 0 {
		return m, false
	}
	src.uses += c.named
	w.mistrust(c)
	days := 1.0 // for how many this one speaks
	if c.weight < 0.1*c.named {
		c.y, c.r = c.raw, float64(c.n)*c.v*src.noise.Variance()/(c.named*c.named)
		if !w.persists(c.y-w.filter.X[src.state], math.Sqrt(variance+c.r)) {
			return m, false
		}
		days = float64(len(w.strayed))
	} else {
		w.strayed = w.strayed[:0]
	}
	v := c.y - mean
	r := c.r
	if z2 := v * v / (variance + c.r); !w.kitten && !math.IsInf(variance, 1) {
		w.fit.Add(min(z2, maxDay*maxDay) / winsored)
		r = w.bound(v, z2, variance, c.r, days)
	}
	inn := w.filter.Observe(&h, c.y, r)
	w.ramps.Observe(float64(w.day), &h, &inn, w.filter.N)
	src.learn(c, inn.V-w.gaining, variance)
	if w.kitten && !math.IsInf(variance, 1) {
		w.gaining += (inn.V - w.gaining) * gainShare
	}
	return measured{c.y - w.filter.X[src.state], r, c.r}, true
}

// mistrust learns how doubtful the names of the weighings are. Visits that went to
// the wrong cat do not average out: they are wrong in the same way for weeks, as
// a scale is that has drifted.
func (w *weights) mistrust(c combined) {
	w.doubt += (1 - c.clear/c.named - w.doubt) * min(1, c.named/nameKeeps)
	if w.doubt > doubtful {
		w.doubted = w.day
	}
}

// clearDays is how long the comparison of amounts looks back.
const clearDays = 60

// clearly reports whether the cat's visits could be told from others' for so long.
func (w *weights) clearly(now time.Time) bool {
	return w.doubted == 0 || dayOf(now)-w.doubted > clearDays
}

// bound returns the noise variance with which one day moves the filter by no
// more than a deviation of maxDay would: heavy tails, kept out of the update.
// But a day far off for the stepDays-th time in a row, on one side, is no
// outlier: the level has moved, and is let go. A day that is believed because those
// before it said the same speaks for all of them: otherwise the more was lost at once,
// the later it would be told.
func (w *weights) bound(v, z2, p, r, days float64) float64 {
	most := maxDay * maxDay * days
	if z2 <= most {
		w.far = 0
		return r
	}
	if w.far*v < 0 {
		w.far = 0
	}
	w.far += math.Copysign(1, v)
	if math.Abs(w.far) >= stepDays {
		w.relevel(v)
		return r
	}
	return (p+r)*z2/most - p
}

// relevel lets the level move by as much as v at once.
func (w *weights) relevel(v float64) { w.filter.P[levelState][levelState] += v * v }

// learn takes what the day said of the noise: the scatter of its own weighings
// and, less heavily since it also holds what the cat did, the innovation.
func (s *source) learn(c combined, innovation, variance float64) {
	if c.dof > 0 {
		s.noise.AddWeighted(c.scatter/c.dof, c.dof)
		return
	}
	if c.n == 1 && c.named >= clearName && !math.IsInf(variance, 1) {
		sq := min(innovation*innovation, 9*(variance+c.v*s.noise.Variance()))
		s.noise.AddWeighted(max(0, sq-variance)/c.v, singleWeight)
	}
}

const (
	gainShare    = 0.2   // of the mean innovation of a kitten
	singleWeight = 0.3   // of a day with one weighing
	maxDay       = 2.5   // deviations
	winsored     = 0.978 // mean square of a normal deviate that is cut at maxDay
	stepDays     = 6
)
