package detect

import (
	"math"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// weights is the model of a cat's weight that the weight signs share. The
// weighings of one UTC day are one observation of a state-space model in
// percent of log weight, so that nothing depends on the unit:
//
//	weighing = level + wander + bias of its source + noise
//
// The level drifts as a random walk, the wander is AR(1), and both are learned
// for this cat by a bank of filters; the noise of each source is learned from
// weighings of one day. A day enters when it is over, at the first step or tick
// after its midnight.
type weights struct {
	cat        home.Cat
	care       *cares
	zero       float64 // percent log weight that the state counts from
	sources    []source
	bin        []visit // of the day that is open
	day        int     // number of that day
	filter     stat.Kalman
	ramps      stat.Ramps
	bank       *stat.Bank
	learned    []snapshot // what the bank knew, by day
	wander     stat.Wander
	fit        stat.Spread // of squared standardised innovations: 1 where the model is right
	excess     float64     // what the likelihood ratios are divided by, learned from fit
	past       []dayPoint
	n          float64   // weighings taken in, each as much as it is likely of this cat
	last       time.Time // newest weighing
	far        float64   // days in a row that were far off, signed
	strayed    []float64 // levels of days in a row that looked like outliers, percent
	early      []float64 // medians of the first days
	earlyWorth []float64 // how sure the name of the surest weighing of each was
	moving     bool      // a change was found and goes on
	dieting    bool      // a plan explains a loss
	kitten     bool      // the cat grows: nothing is learned yet
	gaining    float64   // how far a kitten is ahead of its level each time, percent
	adult      int       // index in past of the first day to be trusted, of a grown cat
	doubted    int       // the last day on which that was too many; 0 for never
	doubt      float64   // share of the weighings, lately, that is of other cats
	view       int       // the source whose view of the level is shown
}

// dayPoint is one day that had a weighing.
type dayPoint struct {
	day    int
	y, r   float64 // what was observed less the bias of its sources, and its variance
	level  float64 // filtered, percent
	sd     float64
	wander stat.Wander // that led to it
}

type snapshot struct {
	day int
	stat.Wander
	excess float64
}

const (
	levelState  = 0
	wanderState = 1
	nameState   = 2 // error of the names
	oneDay      = 24 * time.Hour
)

// Pooled values, percent of body weight and days. The wander and noise of cats
// differ severalfold; these are where learning starts.
var pooled = stat.Wander{SD: 0.5, Phi: 0.65, Drift: 0.045}

// growing is how a kitten's level moves: 10 to 15 g a day (from memory) is 1 to 4
// percent of it.
var growing = stat.Wander{SD: 0.4, Phi: 0.4, Drift: 2}

// unlearned is what is used in the first days, before the bank has seen anything:
// a restless cat, since a quiet one taken for restless only costs days.
var unlearned = stat.Wander{SD: 1.3, Phi: 0.65, Drift: 0.045}

const (
	kittenAge  = 365 * oneDay
	windowDays = 480 // oldest onset considered
	denseDays  = 50  // onsets younger than this are kept for every day
	spaceDays  = 4   // and older ones so far apart
	lagDays    = 42  // a fall must not teach the filter that falling is usual
	learnDays  = 7
)

func newWeights(cat home.Cat, care *cares) *weights {
	w := &weights{cat: cat, care: care, wander: unlearned, bank: newWanderBank(), excess: 1, fit: stat.Spread{Pooled: 1, Weight: 30, Memory: 150}}
	w.ramps = stat.Ramps{Window: windowDays, Dense: denseDays, Space: spaceDays}
	return w
}

// newWanderBank spans the wanders that healthy cats have, with prior weights
// that fall off from the pooled values on logarithmic scales.
func newWanderBank() *stat.Bank {
	var grid []stat.Wander
	var prior []float64
	for _, sd := range []float64{0.12, 0.3, 0.6, 1.1, 1.8, 2.8} {
		for _, phi := range []float64{0.35, 0.6, 0.85} {
			for _, drift := range []float64{0.015, 0.035, 0.07, 0.12} {
				grid = append(grid, stat.Wander{SD: sd, Phi: phi, Drift: drift})
				a, b := math.Log(sd/pooled.SD), math.Log(drift/pooled.Drift)
				prior = append(prior, math.Exp(-a*a/5-2*b*b))
			}
		}
	}
	return stat.NewBank(grid, prior, 0.998)
}

// Between these a mass may be a cat's: half of the smallest newborn's, and twice
// that of the heaviest. Common practice, no published source.
const leastKg, mostKg = 0.03, 50.0

// step takes in a weighing; other observations do not concern it.
func (w *weights) step(o Observation) {
	if o.Weighing == nil {
		return
	}
	m := *o.Weighing
	m.Kg -= w.care.worn(m.Time)
	d := dayOf(m.Time)
	if !(m.Kg >= leastKg && m.Kg <= mostKg) || (len(w.sources) > 0 && d < w.day) {
		return // no cat's mass, or the day is over: the watcher steps through the history again
	}
	w.closeBefore(d)
	w.day = d
	if len(w.sources) == 0 {
		w.zero = 100 * math.Log(m.Kg)
		w.begin()
	}
	v := w.visit(m)
	for _, u := range w.bin {
		if u == v {
			return // delivered twice
		}
	}
	w.bin = append(w.bin, v)
	w.n += v.named
	w.last = m.Time
}

// tick closes the open day when it is over.
func (w *weights) tick(now time.Time) { w.closeBefore(dayOf(now)) }

// wake is when the open day is over.
func (w *weights) wake() time.Time {
	if len(w.bin) == 0 {
		return time.Time{}
	}
	return midnight(w.day + 1)
}

// midnight is the start of a day as dayOf counts them.
func midnight(day int) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

func dayOf(t time.Time) int { return int(math.Floor(float64(t.Unix()) / 86400)) }

func (w *weights) begin() {
	w.filter.Append(0, 0)
	w.filter.Diffuse(levelState)
	w.filter.Append(0, w.wander.SD*w.wander.SD)
	w.filter.Append(0, 0)
}

func (w *weights) closeBefore(d int) {
	if len(w.bin) > 0 && w.day < d {
		w.close()
		w.bin = w.bin[:0]
	}
}

// close takes the open day into the model.
func (w *weights) close() {
	w.grow()
	if len(w.past) > 0 {
		last := w.past[len(w.past)-1].day
		w.advance(float64(w.day-last), float64(last))
	}
	var sumW, sumWY, plain float64
	for s := range w.sources {
		if m, ok := w.observe(s); ok {
			sumW += 1 / m.r
			sumWY += m.y / m.r
			plain += 1 / m.plain
		}
	}
	p := dayPoint{day: w.day, r: math.Inf(1), wander: w.inUse()}
	if sumW > 0 {
		p.y, p.r = sumWY/sumW, 1/sumW
		if !w.kitten && !w.carries(float64(w.day)) {
			w.bank.Observe(float64(w.day), p.y, 1/plain)
		}
	}
	w.startRight()
	w.turnTo(w.anchor())
	p.level, p.sd = w.level()
	w.past = append(w.past, p)
	w.learn()
	w.diet()
}

// diet lets the level follow a planned loss, or a pregnancy, and leaves no trace
// of it for the signs when that is over.
func (w *weights) diet() {
	if w.dieting = w.covered() || w.expecting(); w.dieting {
		w.ramps.Forget(w.today())
	}
}

func (w *weights) advance(dt, last float64) {
	phi, qLevel, qWander := w.inUse().Step(dt)
	keep := math.Exp(-dt / nameDays)
	decay := stat.Vec{levelState: 1, wanderState: phi, nameState: keep}
	gain := stat.Vec{levelState: qLevel, wanderState: qWander, nameState: nameSD * nameSD * w.doubt * (1 - keep*keep)}
	for i := range w.sources {
		s := &w.sources[i]
		decay[s.state] = 1
		gain[s.state] = biasDrift * biasDrift * dt
	}
	w.filter.Scale(&decay, &gain)
	w.ramps.Scale(&decay, w.filter.N)
	if !w.kitten {
		w.ramps.Begin(last)
	}
}

// inUse is the wander of the cat, freer while a change that was found goes on.
func (w *weights) inUse() stat.Wander {
	use := w.wander
	switch {
	case w.dieting:
		use.Drift = max(use.Drift, dietDrift)
	case w.moving:
		use.Drift = max(use.Drift, movingDrift)
	}
	return use
}

// movingDrift follows a fall of 2 % a week within about 1 %, dietDrift one of 3 %: how
// fast a planned loss goes is asked while it goes, and where it stops as well.
const movingDrift, dietDrift = 0.2, 0.45

// grow lets the level of a kitten move as a kitten's does, and starts to learn
// what is usual for the cat on its first birthday.
func (w *weights) grow() {
	age := dateOf(float64(w.day)).Sub(w.cat.Born)
	switch young := !w.cat.Born.IsZero() && age < kittenAge; {
	case young && !w.kitten:
		w.kitten, w.wander = true, growing
	case !young && w.kitten:
		w.kitten, w.gaining, w.wander = false, 0, unlearned
		w.adult = len(w.past)
	}
}

// learn moves the wander in use to what the bank knew lagDays ago, but a cat that
// was found to be more restless since is believed at once: the wander comes back
// within days, so no lasting fall can pass for it.
func (w *weights) learn() {
	if w.kitten || len(w.past)%learnDays != 0 {
		return
	}
	w.learned = append(w.learned, snapshot{w.day, w.bank.Mean(), w.fit.Variance()})
	for len(w.learned) > 1 && w.learned[1].day <= w.day-lagDays {
		w.learned = w.learned[1:]
	}
	w.wander = w.learned[0].Wander
	newest := w.learned[max(0, len(w.learned)-2)]
	if newest.SD > w.wander.SD {
		w.wander.SD, w.wander.Phi = newest.SD, newest.Phi
	}
	w.excess = max(1, w.learned[0].excess, newest.excess)
}
