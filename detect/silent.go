package detect

import (
	"fmt"
	"time"

	"weighbeam/home"
)

// Silence watches one scale, and finds that it has stopped speaking. How long it
// is silent at most between two words is learned from itself, day by day; the
// deadline runs from the last word, whenever the program was started. A scale
// that never spoke is not silent: it was never heard, and nothing is found.
//
// It is pure and made again from the times the scale was heard, like a [Monitor].
type Silence struct {
	scale  string
	last   time.Time // newest word
	day    time.Time // the UTC day that longest belongs to
	most   time.Duration
	kept   []time.Duration // longest pause of each past day with a word, newest last
	limit  time.Duration
	silent incident
}

// The limits of silence are choices of this program.
const (
	leastQuiet   = 3 * time.Hour       // a router that starts anew, a breaker that fell
	unknownQuiet = 72 * time.Hour      // until the usual is known
	mostQuiet    = 14 * 24 * time.Hour // whatever the usual is
	quietKept    = 30                  // days of which the longest pause is kept
	quietNeeded  = 7
	quietTimes   = 2.5 // the usual longest pause, so many times; see quietLimit
)

// HeardAgain is why a silence is over.
const HeardAgain = "The scale was heard again."

// NewSilence returns a Silence of the scale that has heard nothing.
func NewSilence(scale string) *Silence {
	return &Silence{scale: scale, limit: unknownQuiet, silent: incident{sign: home.ScaleSilent}}
}

// Step takes the next time the scale was heard, in time order, and returns what turned.
func (s *Silence) Step(o Observation) []home.Transition {
	at := o.Heard
	if !at.After(s.last) {
		return nil
	}
	if !s.last.IsZero() {
		s.learn(at, min(at.Sub(s.last), times(quietTimes, s.limit)))
	}
	s.last = at
	return s.told(s.silent.apply(nil, clearAs(HeardAgain), at))
}

// learn keeps the longest pause of each day. A pause that was told counts for at
// most twice the limit, and one alone moves nothing: an outage is not the usual.
func (s *Silence) learn(at time.Time, pause time.Duration) {
	if day := at.UTC().Truncate(oneDay); day.After(s.day) {
		if !s.day.IsZero() {
			s.kept = append(s.kept, s.most)
			s.kept = s.kept[max(0, len(s.kept)-quietKept):]
		}
		s.day, s.most = day, 0
	}
	if pause > s.most {
		s.most = pause
		s.limit = quietLimit(s.kept, pause) // today's counts, too
	}
}

// quietLimit is how long a pause must last to be told. The longest but one is the
// usual longest, once enough days are known.
//
// Where visits come at random, the longest pauses of n have exponential tails: with
// the longest but one near the level passed by 1.7 of n, a pause of c times that is
// passed by (1.7/n)^c of them. At five pauses a day, n is 150, and c of 2 would be
// passed once in four years, of 2.5 once in forty.
func quietLimit(kept []time.Duration, today time.Duration) time.Duration {
	longest, next := today, time.Duration(0)
	for _, p := range kept {
		longest, next = max(longest, p), max(next, min(longest, p))
	}
	if len(kept)+1 < quietNeeded {
		return min(max(unknownQuiet, times(quietTimes, longest)), mostQuiet)
	}
	return min(max(leastQuiet, times(quietTimes, next)), mostQuiet)
}

func times(x float64, d time.Duration) time.Duration { return time.Duration(x * float64(d)) }

// Calm is a time before which a Tick does nothing, unless something is stepped.
func (s *Silence) Calm() time.Time {
	if s.last.IsZero() || s.silent.open != nil {
		return endOfTime
	}
	return s.last.Add(s.limit)
}

// Tick lets time pass to now, a full hour UTC, and returns what turned.
func (s *Silence) Tick(now time.Time) []home.Transition {
	if now.Before(s.Calm()) {
		return nil
	}
	return s.told(s.silent.apply(nil, foundAs(home.Finding{
		Urgency: home.Book, Onset: s.last, OnsetLo: s.last, OnsetHi: s.last,
		Text: silentText(now.Sub(s.last), s.limit, len(s.kept) >= quietNeeded),
	}), now))
}

// told makes the findings of turned be about the scale.
func (s *Silence) told(turned []home.Transition) []home.Transition {
	for i := range turned {
		turned[i].Finding.Source = s.scale
	}
	return turned
}

// Open returns the finding that stands, if one does.
func (s *Silence) Open() []home.Finding {
	if s.silent.open == nil {
		return nil
	}
	f := *s.silent.open
	f.Source = s.scale
	return []home.Finding{f}
}

// Stand makes the finding f, told before, stand again: old times of hearing may
// be gone, and with them what made it be found. Only a word of the scale ends it.
func (s *Silence) Stand(f home.Finding) { s.silent.open = &f }

func silentText(gone, limit time.Duration, learned bool) string {
	usual := "By its own habit it would have spoken within " + span(limit) + "."
	if !learned {
		usual = "Its habit is not known yet; a silence of " + span(limit) + " is told in any case."
	}
	return fmt.Sprintf("Nothing has come from this scale for %s. %s Look at its power, its network and the cable of its cell. "+
		"Until it speaks again nothing is known through it: that nothing is found is no sign that all is well.", span(gone), usual)
}
