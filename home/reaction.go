package home

import (
	"fmt"
	"time"
)

// Reaction is what a person said to a finding. It stops reminders and second
// persons, never the news that it got worse.
type Reaction struct {
	ID      string // unique: the same answer sent twice is one
	Finding string // Finding.ID
	Kind    ReactionKind
	At      time.Time
	Until   time.Time // end of a snooze; zero for the other kinds
	By      string    // who said it, as they call themselves
	Note    string    // what explains it, as "a new diet"
}

// ReactionKind is what a reaction says.
type ReactionKind string

// The kinds of reaction.
const (
	SeenTo    ReactionKind = "seen-to"   // somebody sees to it
	Snoozed   ReactionKind = "snoozed"   // remind me at Until
	VetKnows  ReactionKind = "vet-knows" // the practice knows of it
	Explained ReactionKind = "explained" // there is a harmless reason, in Note
)

// Valid returns nil if r can be stored, or what is wrong with it.
func (r Reaction) Valid() error {
	switch {
	case r.ID == "" || len(r.ID) > 100:
		return fmt.Errorf("a reaction needs an id of at most 100 bytes")
	case r.Finding == "" || len(r.Finding) > 300:
		return fmt.Errorf("a reaction needs the id of a finding")
	case r.At.IsZero():
		return fmt.Errorf("a reaction needs a time")
	case len(r.Note) > MaxNote || len(r.By) > 200:
		return fmt.Errorf("keep the note under %d bytes and the name under 200", MaxNote)
	}
	switch r.Kind {
	case SeenTo, VetKnows, Explained:
		if !r.Until.IsZero() {
			return fmt.Errorf("only a snooze has an end")
		}
	case Snoozed:
		if d := r.Until.Sub(r.At); d <= 0 || d > MaxSnooze {
			return fmt.Errorf("a snooze ends between now and %d days from now", int(MaxSnooze.Hours()/24))
		}
	default:
		return fmt.Errorf("unknown reaction %q: use seen-to, snoozed, vet-knows or explained", string(r.Kind))
	}
	return nil
}

// MaxSnooze is how long a finding can be snoozed: nothing is silenced for good.
const MaxSnooze = 30 * 24 * time.Hour
