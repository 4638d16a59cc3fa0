package detect

import (
	"slices"
	"time"

	"weighbeam/home"
)

// breathingHigh finds breaths that are repeatedly over a published line, from the
// first day on, whatever the cat's usual. Asleep the line is 30 a minute: a mean
// over it, or several separate counts over it, merits a closer look (Ljungvall et
// al. 2014). One high count alone asks for a recount and is no finding. Over 40,
// confirmed by another count, asks to call today (our own choice of line, on the
// careful side; no study of cats sets it). A cat resting awake breathes faster
// (16 to 60, Dijkstra et al. 2018), so only the second line counts for it, and
// only when it is crossed repeatedly.
type breathingHigh struct {
	asleep highState
	rest   highState
}

type highState struct {
	state  home.State
	counts []rateOf // newest last
	open   *home.Finding
}

const (
	sleepingLine = 30.0 // a minute
	urgentLine   = 40.0
	callLine     = 35.0 // mean of the high counts over which to call today: Cornell Feline Health Center
	// Several separate counts: highOf of the last lastOf, all within highSpan.
	highOf, lastOf = 3, 5
	highSpan       = 21 * 24 * time.Hour
	// Another count over the urgent line confirms one within confirmSpan.
	confirmSpan = 48 * time.Hour
	// Counts less than this apart are one count.
	separate = 2 * time.Minute
	// An open finding closes after this many counts in a row at or under the line.
	calmCounts = 4
)

func newBreathingHigh() *breathingHigh {
	return &breathingHigh{asleep: highState{state: home.Asleep}, rest: highState{state: home.Resting}}
}

func (b *breathingHigh) kind() home.Sign { return home.BreathingHigh }

func (b *breathingHigh) step(o Observation) verdict {
	r, ok := asleepOrResting(o)
	if !ok {
		return verdict{}
	}
	s := &b.asleep
	if r.State == home.Resting {
		s = &b.rest
	}
	was := b.asleep.open != nil || b.rest.open != nil
	if !s.take(rateOfReading(r)) {
		return verdict{}
	}
	switch a, r := b.asleep.open, b.rest.open; {
	case a != nil && (r == nil || a.Urgency.Rank() >= r.Urgency.Rank()):
		return foundAs(*a)
	case r != nil:
		return foundAs(*r)
	case was:
		return clearAs(breathingUnderLine(calmCounts))
	}
	return verdict{}
}

// line is the rate over which a count of this state is high.
func (s *highState) line() float64 {
	if s.state == home.Resting {
		return urgentLine
	}
	return sleepingLine
}

// take takes in one count and judges; false where it is none of its own.
func (s *highState) take(c rateOf) bool {
	if n := len(s.counts); n > 0 && c.at.Sub(s.counts[n-1].at) < separate {
		return false
	}
	s.counts = append(s.counts, c)
	if n := len(s.counts); n > lastOf {
		s.counts = slices.Delete(s.counts, 0, n-lastOf)
	}
	high := s.high()
	switch {
	case s.open != nil && s.calm():
		s.open = nil
	case s.repeated(high) || s.confirmed():
		f := s.describe(high)
		s.open = &f
	}
	return true
}

// high are the counts over the line among the last, within highSpan.
func (s *highState) high() []rateOf {
	newest := s.counts[len(s.counts)-1].at
	var out []rateOf
	for _, c := range s.counts {
		if c.perMinute > s.line() && newest.Sub(c.at) <= highSpan {
			out = append(out, c)
		}
	}
	return out
}

// repeated reports whether the high counts are several, the newest among them.
func (s *highState) repeated(high []rateOf) bool {
	return len(high) >= highOf && high[len(high)-1].at.Equal(s.counts[len(s.counts)-1].at)
}

// confirmed reports whether the last two sleeping counts are both over the
// urgent line and near each other.
func (s *highState) confirmed() bool {
	n := len(s.counts)
	if n < 2 || s.state != home.Asleep {
		return false
	}
	a, b := s.counts[n-2], s.counts[n-1]
	return a.perMinute > urgentLine && b.perMinute > urgentLine && b.at.Sub(a.at) <= confirmSpan
}

func (s *highState) calm() bool {
	n := len(s.counts)
	if n < calmCounts {
		return false
	}
	return !slices.ContainsFunc(s.counts[n-calmCounts:], func(c rateOf) bool { return c.perMinute > s.line() })
}

func (s *highState) describe(high []rateOf) home.Finding {
	sum := 0.0
	for _, c := range high {
		sum += c.perMinute
	}
	mean := sum / float64(len(high))
	f := home.Finding{
		Onset: high[0].at, OnsetLo: high[0].at, OnsetHi: high[0].at,
		Before: s.line(), After: mean, LevelUnit: "/min", Data: len(high),
		Urgency:  home.Book,
		Warnings: []string{warnBreathCauses},
	}
	if mean > callLine || s.confirmed() {
		f.Urgency = home.Today
	}
	if s.state == home.Resting {
		f.Warnings = append(f.Warnings, warnResting)
	}
	f.Text = highBreathsText(s.state, f)
	return f
}

// outlook asks for a recount after a single high count.
func (b *breathingHigh) outlook(_ time.Time, out *home.Outlook) {
	s := &b.asleep
	if n := len(s.counts); n > 0 && s.open == nil && s.counts[n-1].perMinute > sleepingLine {
		out.Unknown = append(out.Unknown, recount(s.counts[n-1].perMinute))
	}
}
