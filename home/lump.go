package home

import (
	"fmt"
	"slices"
	"time"
)

// Lump is one lump as it was at one home check. Its ID is the same from check to
// check, so that it can be followed.
type Lump struct {
	ID    string // a slug; the cat's own
	Place Place
	Side  Side `json:",omitempty"`
	// How long, wide and high it is, mm; 0 for not measured. Three dimensions as
	// the Vaccine-Associated Feline Sarcoma Task Force (AVMA 1999) asks.
	LengthMm  float64   `json:",omitempty"`
	WidthMm   float64   `json:",omitempty"`
	HeightMm  float64   `json:",omitempty"`
	FirstSeen time.Time `json:",omitzero"`  // the day; zero for not known
	Gone      bool      `json:",omitempty"` // looked for, and not there any more
	Note      string    `json:",omitempty"` // how it feels, whether it moves
}

// Place is a region of the body outline.
type Place string

// The places of a lump, nose to tail.
const (
	AtFace     Place = "face"
	AtMouth    Place = "mouth"
	AtEar      Place = "ear"
	AtNeck     Place = "neck"
	AtShoulder Place = "shoulder" // between the shoulder blades, too
	AtForeleg  Place = "foreleg"
	AtChest    Place = "chest"
	AtBack     Place = "back"
	AtFlank    Place = "flank"
	AtBelly    Place = "belly"
	AtMammary  Place = "mammary-chain"
	AtHip      Place = "hip"
	AtHindLeg  Place = "hind-leg"
	AtTail     Place = "tail"
	AtTailRoot Place = "under-the-tail"
)

// Places lists every place, nose to tail.
func Places() []Place {
	return []Place{AtFace, AtMouth, AtEar, AtNeck, AtShoulder, AtForeleg, AtChest, AtBack, AtFlank, AtBelly, AtMammary, AtHip, AtHindLeg, AtTail, AtTailRoot}
}

// Words is the place as a person reads it.
func (p Place) Words() string { return spaced(string(p)) }

// Valid returns nil if l can be stored, or what is wrong with it.
func (l Lump) Valid() error {
	if err := ValidID("lump", l.ID); err != nil {
		return err
	}
	if !slices.Contains(Places(), l.Place) {
		return fmt.Errorf("lump %s: unknown place %q", l.ID, string(l.Place))
	}
	if _, ok := ParseSide(string(l.Side)); !ok {
		return fmt.Errorf("lump %s: unknown side %q", l.ID, string(l.Side))
	}
	for _, mm := range []float64{l.LengthMm, l.WidthMm, l.HeightMm} {
		if !(mm >= 0 && mm <= MostLumpMm) {
			return fmt.Errorf("lump %s: %g mm is outside 0 to %d", l.ID, mm, MostLumpMm)
		}
	}
	if len(l.Note) > MaxNote {
		return fmt.Errorf("lump %s: keep the note under %d bytes", l.ID, MaxNote)
	}
	return nil
}

// MostLumpMm is the largest lump that is no slip of the unit, mm.
const MostLumpMm = 300

// SizeMm is the largest of l's dimensions, 0 where none was measured.
func (l Lump) SizeMm() float64 { return max(l.LengthMm, l.WidthMm, l.HeightMm) }
