package home

import (
	"errors"
	"time"
)

// Visit is one stay on a scale, or something else that a scale felt.
// A device that sends one settled value a stay gives a visit whose Start is its End.
type Visit struct {
	Source  string
	Start   time.Time
	End     time.Time
	Event   Event
	MassKg  float64  // body mass, 0 where the event is no weighing
	SDKg    float64  // standard uncertainty of MassKg
	LeftG   float64  // what was left behind, g; meaningful where HasLeft
	LeftSDG float64  // standard uncertainty of LeftG
	HasLeft bool     // LeftG was measured
	Quality float64  // 0 (worthless) to 1 (as good as this scale gets)
	Reasons []string // named reasons for a low quality, as "moving" or "dropout"

	CreptG float64 // by how much the empty scale had moved by itself since the event before, g; 0 where not known
	Gain   float64 // of the calibration that MassKg and LeftG were made with, 0 for none
	SpanKg float64 // the part of SDKg that it brought

	Cat        string  // id of the cat, "" where unclear or somebody else
	Confidence float64 // probability that Cat is right, 0 where Cat is ""
	Whose      Whose
	Shares     []Share // of a CatVisit: the cats that it may be of, most likely first
}

// Share is how likely a visit is of one cat.
type Share struct {
	Cat string
	P   float64 // probability
}

// Weighings is what v says of the mass of each cat that it may be of. Where cats
// weigh nearly the same, the visits that are clear are a biased sample of theirs:
// only all of them, each for what it is worth, say what a cat weighs.
func (v Visit) Weighings() []Weighing {
	if v.Event != CatVisit {
		return nil
	}
	all := make([]Weighing, 0, len(v.Shares))
	for _, s := range v.Shares {
		all = append(all, Weighing{Cat: s.Cat, Time: v.End, Kg: v.MassKg, SDKg: v.SDKg, Source: v.Source,
			Confidence: s.P, Unclear: v.Cat != s.Cat})
	}
	return all
}

// Event is what a scale felt.
type Event string

// The events of a scale. Only CatVisit carries a weighing.
const (
	CatVisit Event = "visit"     // a cat stood on it long enough to weigh
	Look     Event = "look"      // front paws or a short step: no weighing
	Several  Event = "several"   // more than one at once: no weighing
	Scooped  Event = "scooped"   // a person took something out
	ToppedUp Event = "topped-up" // a person put something in
	Knocked  Event = "knocked"   // a push that changed nothing
	Moved    Event = "moved"     // lifted off, emptied or changed: a new zero
	Meal     Event = "meal"      // food taken from a feeder
	Drink    Event = "drink"     // water taken from a bowl
)

// Whose says how the name of a visit came about.
type Whose string

// How a visit got, or did not get, its cat.
const (
	Named   Whose = "named"   // by the program, with Confidence
	Said    Whose = "said"    // by a person or a reader tag
	Unclear Whose = "unclear" // waits for later visits or a person
	Guest   Whose = "guest"   // somebody who does not live here
)

// Weighing is the body mass of one known cat at one time.
type Weighing struct {
	Cat        string
	Time       time.Time
	Kg         float64
	SDKg       float64 // standard uncertainty; 0 where not stated
	Source     string
	Confidence float64 // probability that Cat is right, 1 for a weighing by a person
	Unclear    bool    // of a visit that does not carry the name of Cat: it may be of several cats
}

// Naming is what a person said of a visit: whose it was.
type Naming struct {
	Source string
	Start  time.Time // of the visit
	Cat    string    // "" for somebody who does not live here
	By     string    // who said it, as they call themselves
	At     time.Time
}

// Valid returns nil if s can be stored, or what is wrong with it.
func (s Naming) Valid() error {
	switch {
	case s.Start.IsZero() || s.At.IsZero():
		return errors.New("whose a visit was needs the start of it and when it was said")
	case len(s.By) > 200:
		return errors.New("keep the name under 200 bytes")
	}
	if s.Cat != "" {
		if err := ValidID("cat", s.Cat); err != nil {
			return err
		}
	}
	return ValidID("source", s.Source)
}

// Checkpoint is where the making of a source's visits can go on from: the state
// of its tracker before the first load at or after At.
type Checkpoint struct {
	Source   string
	At       time.Time
	State    []byte
	Gain     float64 // of the calibration that State was made with, 0 for none
	OffsetKg float64 // its offset
}
