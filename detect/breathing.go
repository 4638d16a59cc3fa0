package detect

import (
	"math"
	"slices"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// breathing is what is known of a cat's breath counts in one state. Counts of
// another state never enter it. Counts of one sitting (within sittingLength of
// its first) are one observation, their median, so that a recount mends a count
// that went wrong and a keeper who counts five times in a row is not five times
// as sure.
type breathing struct {
	state   home.State
	rises   stat.Rises // with the sitting in hand taken in
	before  stat.Rises // as it was before that sitting
	sitting []rateOf   // counts of the sitting in hand
	past    []float64  // a minute, of the sittings before it, the last pastSittings
	short   int        // counts over less than 25 s
	total   int
}

// rateOf is one count.
type rateOf struct {
	at        time.Time
	perMinute float64
	sd        float64 // from counting alone
}

const (
	sittingLength = 6 * time.Hour
	shortWindow   = 25 * time.Second
	// A single count of some hundred is far too high: a dream, a purr, a slip.
	// It may pull by no more than this many standard deviations from the median
	// of the last recentSittings; two or three in a row move that median.
	pullLimit      = 2.0
	recentSittings = 5
	// The plain comparison takes the last plainRecent sittings against those before
	// them, with as many between that belong to neither.
	pastSittings, plainRecent = 60, 6
	// learnCounts is how many sittings make a usual: Ljungvall et al. 2014 took
	// the mean of 8 to 10 counts for each cat.
	learnCounts = 8
)

// usualRates is what is expected of a cat that nobody has counted yet: median
// and range in healthy cats at home, asleep 20 (9 to 28), resting awake 27 (16
// to 60) (Dijkstra et al. 2018).
func usualRates(s home.State) (mean, sd float64) {
	if s == home.Resting {
		return 27, 9
	}
	return 20.5, 4.5
}

// breathModels are the beliefs on the spread of a cat's counts, a minute. No
// paper gives the within-cat spread (only that it is low: Ljungvall et al. 2014;
// Porciello et al. 2016), so the grid is wide and the cat's own counts decide.
func breathModels() []stat.RiseModel {
	var models []stat.RiseModel
	for _, noise := range []float64{1, 1.5, 2.1, 3} {
		for _, wander := range []float64{0.3, 0.7, 1.3} {
			for _, days := range []float64{25, 100} {
				models = append(models, stat.RiseModel{Noise: noise, Wander: wander, WanderFor: days, Prior: 1})
			}
		}
	}
	return models
}

func newBreathing(state home.State) *breathing {
	mean, sd := usualRates(state)
	rises := stat.NewRises(mean, sd, breathModels())
	return &breathing{state: state, rises: *rises, before: *rises}
}

// asleepOrResting returns the count in o if it is one of breaths at home in a
// state that has a usual. Counts in a clinic or of an active cat are another
// variable altogether (Dijkstra et al. 2018: consulting room median 64).
func asleepOrResting(o Observation) (home.Reading, bool) {
	if o.Count == nil || o.Count.Quantity != home.Breaths || o.Count.Window <= 0 || o.Count.Retained {
		return home.Reading{}, false
	}
	ok := o.Count.Source != home.Clinic && (o.Count.State == home.Asleep || o.Count.State == home.Resting)
	return *o.Count, ok
}

// rateOfReading is the rate behind the count in r.
func rateOfReading(r home.Reading) rateOf {
	c := stat.RateOfCount(int(r.Value), r.Window.Seconds(), 0)
	return rateOf{at: r.Time, perMinute: c.PerMinute, sd: c.SD}
}

// take takes in one count, and reports whether it was new: the same one twice,
// or one that comes late, changes nothing.
func (b *breathing) take(r home.Reading) bool {
	if last := len(b.sitting) - 1; last >= 0 && !r.Time.After(b.sitting[last].at) {
		return false
	}
	c := rateOfReading(r)
	if len(b.sitting) > 0 && r.Time.Sub(b.sitting[0].at) > sittingLength {
		b.past = append(b.past, b.typical())
		if len(b.past) > pastSittings {
			b.past = slices.Delete(b.past, 0, len(b.past)-pastSittings)
		}
		b.before, b.sitting = b.rises, nil
	}
	b.sitting = append(b.sitting, c)
	b.total++
	if r.Window < shortWindow {
		b.short++
	}
	b.rises = b.before
	t, variance := decimalDay(b.sitting[0].at), c.sd*c.sd/float64(len(b.sitting))
	b.rises.Observe(t, b.held(t, variance), variance)
	return true
}

// typical is the rate of the sitting in hand.
func (b *breathing) typical() float64 {
	rates := make([]float64, len(b.sitting))
	for i, c := range b.sitting {
		rates[i] = c.perMinute
	}
	return stat.Median(rates)
}

// held is the rate of the sitting in hand, kept within pullLimit of what was
// counted lately.
func (b *breathing) held(t, variance float64) float64 {
	y := b.typical()
	if len(b.past) < 2 {
		return y
	}
	_, sd := b.before.Predict(t, variance)
	centre := stat.Median(append(slices.Clone(b.past[max(0, len(b.past)-recentSittings+1):]), y))
	return max(centre-pullLimit*sd, min(centre+pullLimit*sd, y))
}

// plainly is a second voice beside the model: how many standard errors the median
// of the last sittings is over that of older ones. NaN where there are too few.
func (b *breathing) plainly() float64 {
	all := append(slices.Clone(b.past), b.typical())
	newer := max(0, len(all)-plainRecent)
	older := max(0, newer-plainRecent)
	return stat.RobustZ(all[newer:], all[:older])
}

// ready reports whether the usual is known well enough to compare with.
func (b *breathing) ready() bool { return b.rises.N() >= learnCounts }

// decimalDay is t in days, as the statistics count time.
func decimalDay(t time.Time) float64 { return float64(t.UnixMicro()) / (24 * 3600e6) }

// fromDecimalDay is the time of a day as decimalDay counts them, to the second.
func fromDecimalDay(day float64) time.Time {
	return time.Unix(int64(math.Round(day*24*3600)), 0).UTC()
}
