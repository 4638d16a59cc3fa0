package detect

import (
	"math"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// breathingRising finds breaths that rise against the cat's own usual, asleep
// and resting each against its own. It needs both: sure (the evidence is over the
// threshold of the budget) and big enough (leastRise). From a rise of a fifth on
// it asks to book a visit: clinic handouts call at 20 or 25 % over the usual, and
// 20 is the more careful; no study of cats sets it.
type breathingRising struct {
	budget float64
	asleep risingState
	rest   risingState
}

// risingState is the sign for counts in one state.
type risingState struct {
	*breathing
	finding *home.Finding // while it stands
	ended   bool          // it stood, and nobody was told yet that it does not
}

const (
	leastRise   = 10.0 // percent of the usual: under it a change is not worth a word
	bookRise    = 20.0
	endRise     = 5.0 // percent: under it an open finding closes
	endEvidence = 3.0 // how far under the threshold the evidence must fall to close one
	// The beliefs are wide on purpose, so their intervals cover more than they
	// say: this much of the probability covers 90 % of simulated cats.
	ninetyMass = 0.85
)

func newBreathingRising(opt Options) *breathingRising {
	return &breathingRising{
		budget: opt.budget(),
		asleep: risingState{breathing: newBreathing(home.Asleep)},
		rest:   risingState{breathing: newBreathing(home.Resting)},
	}
}

func (b *breathingRising) kind() home.Sign { return home.BreathingRising }

func (b *breathingRising) step(o Observation) verdict {
	r, ok := asleepOrResting(o)
	if !ok {
		return verdict{}
	}
	s := &b.asleep
	if r.State == home.Resting {
		s = &b.rest
	}
	if !s.take(r) {
		return verdict{}
	}
	s.judge(b.share())
	return b.verdict()
}

// share is the budget of one state. A cat that is counted in both has two chances
// of a false finding, which share it.
func (b *breathingRising) share() float64 {
	if b.asleep.ready() && b.rest.ready() {
		return b.budget / 2
	}
	return b.budget
}

// riseThreshold is the evidence that a healthy cat counted three times a week
// reaches at most budget times a year. The level was fitted to simulated cats,
// and the slope of one is that of a sum of likelihood ratios, which exceeds a
// times what is usual once in a; testdata/breathing_characteristics.txt shows what
// it gives on other cats.
func riseThreshold(budget float64) float64 {
	return 6 - math.Log(budget/0.1)
}

// judge decides whether the finding of this state stands, at a budget of false
// findings a year.
func (s *risingState) judge(budget float64) {
	if !s.ready() {
		return
	}
	sure, least := riseThreshold(budget), leastRise
	if s.finding != nil {
		sure, least = sure-endEvidence, endRise
	}
	evidence := s.rises.Evidence()
	if evidence < sure {
		s.end()
		return
	}
	rise, ok := s.rises.Estimate(ninetyMass)
	if !ok || !(rise.Change >= least/100*rise.Before) {
		s.end()
		return
	}
	f := s.describe(rise)
	f.Confidence = sureness(budget, evidence-riseThreshold(budget))
	s.finding = &f
}

// end closes the finding, if there is one.
func (s *risingState) end() {
	if s.finding != nil {
		s.finding, s.ended = nil, true
	}
}

func (s *risingState) describe(rise stat.Rise) home.Finding {
	f := home.Finding{
		Onset: fromDecimalDay(rise.Onset), OnsetLo: fromDecimalDay(rise.OnsetLo), OnsetHi: fromDecimalDay(rise.OnsetHi),
		ChangePct: 100 * rise.Change / rise.Before,
		Rate:      rise.Pace, RateLo: rise.PaceLo, RateHi: rise.PaceHi, RateUnit: "1/min/week",
		Before: rise.Before, After: rise.Now, LevelUnit: "/min",
		Data:    s.rises.N(),
		Urgency: home.Mention,
	}
	booked := s.finding != nil && s.finding.Urgency == home.Book
	if f.ChangePct >= bookRise || booked && f.ChangePct >= bookRise-endRise {
		f.Urgency = home.Book
	}
	z, voice := s.plainly(), ""
	f.Warnings = s.warnings(z)
	if z > plainBreaths {
		voice = agrees("the last sittings with older ones")
	}
	f.Text = risingBreathsText(s.state, f, voice)
	return f
}

// plainBreaths is the robust z from which a rise is plain to a simple comparison:
// one-sided 5 %.
const plainBreaths = 1.64

// warnings say what would make the finding wrong.
func (s *risingState) warnings(z float64) []string {
	w := []string{warnBreathCauses}
	if s.rises.N() < 2*learnCounts {
		w = append(w, warnFewCounts(s.rises.N()))
	}
	if !(z > plainBreaths) { // or cannot be told
		w = append(w, warnNotPlain)
	}
	if s.short*2 > s.total {
		w = append(w, warnShortWindow)
	}
	if s.state == home.Resting {
		w = append(w, warnResting)
	}
	return w
}

// verdict speaks for both states: the more urgent finding, sleeping first, or
// clear when none stands any more.
func (b *breathingRising) verdict() verdict {
	a, r := b.asleep.finding, b.rest.finding
	switch {
	case a != nil && (r == nil || a.Urgency.Rank() >= r.Urgency.Rank()):
		return foundAs(*a)
	case r != nil:
		return foundAs(*r)
	}
	if b.asleep.ended || b.rest.ended {
		b.asleep.ended, b.rest.ended = false, false
		return clearAs(breathingUsualAgain)
	}
	return verdict{}
}

func (b *breathingRising) outlook(_ time.Time, out *home.Outlook) {
	s := &b.asleep
	if !s.ready() {
		out.Unknown = append(out.Unknown, unknownBreaths(learnCounts-s.rises.N()))
		return
	}
	mean, sd := s.rises.Level()
	if s.finding != nil {
		mean = s.finding.Before
	}
	const z90 = 1.6449 // standard normal quantile at 0.95
	out.Asleep = home.Figure{Known: true, Value: mean, Lo: mean - z90*sd, Hi: mean + z90*sd}
	out.Learned = append(out.Learned, learnedBreaths(s.rises.N(), mean))
}
