package home

import (
	"fmt"
	"time"
)

// Sign is the kind of a finding.
type Sign string

// The signs that the program looks for.
const (
	WeightFalling   Sign = "weight-falling"
	WeightRising    Sign = "weight-rising"
	WeightLow       Sign = "weight-low"       // 10 % under the reference weight
	PlanTooFast     Sign = "plan-too-fast"    // a planned loss, faster than it may be
	BreathingRising Sign = "breathing-rising" // against the cat's own usual
	BreathingHigh   Sign = "breathing-high"   // repeatedly over the published line
	RedFlagSeen     Sign = "red-flag"         // seen by a person at a home check
	NotSeen         Sign = "not-seen"         // no scale and no person has met the cat
	ScaleSilent     Sign = "scale-silent"
	ChannelFailing  Sign = "channel-failing" // a way of telling people does not take notices
	ScaleDrifting   Sign = "scale-drifting"  // all cats on it seem to have changed together
	ClockWrong      Sign = "clock-wrong"     // of a scale

	PlanOff         Sign = "plan-off"           // a planned loss that does not come
	HeartOutOfRange Sign = "heart-out-of-range" // repeatedly, at rest
	TempOutOfRange  Sign = "temperature-out-of-range"
	NotEating       Sign = "not-eating"      // nothing taken from the bowls that are weighed
	EatingLess      Sign = "eating-less"     // than the cat's own usual
	DrinkingMore    Sign = "drinking-more"   // than the cat's own usual, or a published line
	LitterMore      Sign = "litter-more"     // more left behind a day than is usual
	FrequentVisits  Sign = "frequent-visits" // to the litter box, leaving nothing
	NoLitterVisit   Sign = "no-litter-visit" // of a cat that is met elsewhere
	ScoreMoving     Sign = "score-moving"    // body or muscle condition
	PainScore       Sign = "pain-score"      // a score that asks for a look
	LumpToShow      Sign = "lump-to-show"    // new, large or growing
	CheckOverdue    Sign = "check-overdue"   // of a cat that people look at by hand
)

// Signs lists every sign.
func Signs() []Sign {
	return []Sign{
		WeightFalling, WeightRising, WeightLow, PlanTooFast, BreathingRising, BreathingHigh,
		RedFlagSeen, NotSeen, ScaleSilent, ChannelFailing, ScaleDrifting, ClockWrong,
		PlanOff, HeartOutOfRange, TempOutOfRange, NotEating, EatingLess, DrinkingMore,
		LitterMore, FrequentVisits, NoLitterVisit, ScoreMoving, PainScore, LumpToShow,
		CheckOverdue,
	}
}

// Urgency says how soon a finding wants a person to act.
type Urgency string

// The urgencies, least first.
const (
	Mention Urgency = "mention" // at the next visit to the practice
	Book    Urgency = "book"    // book a visit
	Today   Urgency = "today"   // call today
	Now     Urgency = "now"     // go now
)

// Rank orders urgencies: 0 for an unknown one, then 1 for Mention to 4 for Now.
func (u Urgency) Rank() int {
	switch u {
	case Mention:
		return 1
	case Book:
		return 2
	case Today:
		return 3
	case Now:
		return 4
	}
	return 0
}

// Finding is something that changed or is out of range, for one cat or one scale.
type Finding struct {
	Cat     string // "" where the finding is about a scale
	Source  string // "" where the finding is about a cat
	Sign    Sign
	Urgency Urgency
	Raised  time.Time // the reading or tick at which it was known, never later knowledge
	Updated time.Time // when Urgency or the figures last changed
	Closed  time.Time // zero while open
	Reason  string    // why it was closed

	Onset      time.Time // when the change began; zero where that has no meaning
	OnsetLo    time.Time // 90 % interval
	OnsetHi    time.Time
	ChangePct  float64 // since the onset, percent of the level before; NaN-free, 0 where it has no meaning
	Rate       float64 // pace of the change, in RateUnit
	RateLo     float64 // 90 % interval
	RateHi     float64
	RateUnit   string // "%/week" for weights, "1/min/week" for breaths; "" where there is no pace
	Before     float64
	After      float64
	LevelUnit  string   // unit of Before and After, as shown
	Confidence float64  // 0 to 1: how sure the change is real; 0 where it has no meaning
	Data       int      // how many readings it rests on
	Warnings   []string // what would make it wrong, as full sentences
	Text       string   // what was found, in plain words
}

// Reasons to close a finding that say nothing of whether what it found has passed.
const (
	LeftHousehold = "It is no longer in the household."
	LearnedAnew   = "The food was changed, so the usual is learned anew."
)

// Unresolved reports that f was closed because nobody watches any more, not because
// what it found has passed.
func (f Finding) Unresolved() bool { return f.Reason == LeftHousehold || f.Reason == LearnedAnew }

// ID identifies a finding for ever: its subject, its sign and when it was raised.
func (f Finding) ID() string {
	return fmt.Sprintf("%s/%s/%s", f.Subject(), f.Sign, f.Raised.UTC().Format("20060102T150405.000000Z"))
}

// Subject is the cat or scale that the finding is about.
func (f Finding) Subject() string {
	if f.Cat != "" {
		return f.Cat
	}
	return f.Source
}

// Open reports whether the finding still stands.
func (f Finding) Open() bool { return f.Closed.IsZero() }

// Turn is a moment in the life of a finding.
type Turn string

// The turns of a finding.
const (
	Raised   Turn = "raised"
	Worsened Turn = "worsened" // its urgency rose; of a red flag, it or another was seen again
	Eased    Turn = "eased"    // its urgency fell
	Updated  Turn = "updated"  // only its figures moved
	Closed   Turn = "closed"
	Reminded Turn = "reminded" // nothing changed: it still stands and nobody has reacted
	Daily    Turn = "daily"    // of no finding: the day's digest
)

// Transition is one turn of one finding, with the finding as it was after it.
type Transition struct {
	Turn    Turn
	At      time.Time
	Finding Finding
}
