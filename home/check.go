package home

import (
	"fmt"
	"strings"
	"time"
)

// HomeCheck is what a person looked at and counted on one occasion. Any part
// may be missing. Its numbers are readings as well, with the source "hand".
type HomeCheck struct {
	ID       string // unique; the same check sent twice is one check
	Cat      string
	Time     time.Time
	By       string // who did it, as they call themselves
	Note     string
	RedFlags []RedFlag
	Readings []Reading
}

// RedFlag is something seen that cannot wait, whatever any trend says.
type RedFlag string

// The red flags. Sources: University of Missouri VHC emergency list; Merck
// Veterinary Manual, triage tables (gum colour); iCatCare 2025 (straining).
const (
	OpenMouth  RedFlag = "open-mouth-breathing"
	HardBreath RedFlag = "laboured-breathing"
	GumColour  RedFlag = "gums-blue-white-or-grey"
	Collapse   RedFlag = "collapse"
	Straining  RedFlag = "straining-without-urine"
	HindLegs   RedFlag = "dragging-hind-legs"
	Poison     RedFlag = "eaten-poison"
)

// RedFlags lists every red flag in the order a form asks for them.
func RedFlags() []RedFlag {
	return []RedFlag{OpenMouth, HardBreath, GumColour, Collapse, Straining, HindLegs, Poison}
}

// Words is the red flag as a person would say it.
func (f RedFlag) Words() string {
	switch f {
	case OpenMouth:
		return "breathing with an open mouth"
	case HardBreath:
		return "struggling to breathe"
	case GumColour:
		return "blue, white or grey gums"
	case Collapse:
		return "collapse, or cannot stand"
	case Straining:
		return "straining without passing urine"
	case HindLegs:
		return "dragging the hind legs"
	case Poison:
		return "has eaten poison, or lily or antifreeze"
	}
	return string(f)
}

// Valid returns nil if c can be stored, or what is wrong with it.
func (c HomeCheck) Valid() error {
	if c.ID == "" || len(c.ID) > 100 {
		return fmt.Errorf("a home check needs an id of at most 100 bytes")
	}
	if err := ValidID("cat", c.Cat); err != nil {
		return err
	}
	if len(c.Note) > MaxNote || len(c.By) > 200 {
		return fmt.Errorf("keep the note under %d bytes and the name under 200", MaxNote)
	}
	if len(c.Readings) == 0 && len(c.RedFlags) == 0 && strings.TrimSpace(c.Note) == "" {
		return fmt.Errorf("nothing was filled in: give at least one part of the check")
	}
	for _, f := range c.RedFlags {
		if f.Words() == string(f) {
			return fmt.Errorf("unknown red flag %q", string(f))
		}
	}
	for _, r := range c.Readings {
		if err := r.Valid(); err != nil {
			return err
		}
		if r.Cat != c.Cat {
			return fmt.Errorf("a reading of the check is for %q, the check for %q", r.Cat, c.Cat)
		}
	}
	return nil
}
