package home

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// HomeCheck is what a person looked at and counted on one occasion. Any part
// may be missing, and its parts may be spread over days. Its numbers are readings
// as well, with the source "hand".
type HomeCheck struct {
	ID       string // unique; the same check sent twice is one check
	Cat      string
	Time     time.Time
	By       string // who did it, as they call themselves
	Note     string
	RedFlags []RedFlag
	Readings []Reading
	Seen     []Seen  `json:",omitempty"`
	Lumps    []Lump  `json:",omitempty"`
	Given    []Given `json:",omitempty"`
	Photos   []Photo `json:",omitempty"`
}

// Empty reports whether nothing was filled in.
func (c HomeCheck) Empty() bool {
	return len(c.Readings)+len(c.RedFlags)+len(c.Seen)+len(c.Lumps)+len(c.Given)+len(c.Photos) == 0 && strings.TrimSpace(c.Note) == ""
}

// Of returns what was said of a part on a side.
func (c HomeCheck) Of(p Part, s Side) (Seen, bool) {
	i := slices.IndexFunc(c.Seen, func(o Seen) bool { return o.Part == p && o.Side == s })
	if i < 0 {
		return Seen{}, false
	}
	return c.Seen[i], true
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
	if c.Empty() {
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
	return c.validParts()
}

// mostParts is how many lumps, foods or pictures one check may have.
const mostParts = 100

func (c HomeCheck) validParts() error {
	if len(c.Seen) > 2*len(partTraits) || max(len(c.Lumps), len(c.Given), len(c.Photos)) > mostParts {
		return fmt.Errorf("a home check has at most %d lumps, foods or pictures each", mostParts)
	}
	for i, l := range c.Seen {
		if err := l.Valid(); err != nil {
			return err
		}
		if slices.ContainsFunc(c.Seen[:i], func(o Seen) bool { return o.Part == l.Part && o.Side == l.Side }) {
			return fmt.Errorf("%s is told of twice", l.Part)
		}
	}
	seen := map[string]bool{}
	for _, l := range c.Lumps {
		if err := l.Valid(); err != nil {
			return err
		}
		if seen[l.ID] {
			return fmt.Errorf("the lump %s is told of twice", l.ID)
		}
		seen[l.ID] = true
	}
	for _, g := range c.Given {
		if err := g.Valid(); err != nil {
			return err
		}
	}
	for _, p := range c.Photos {
		if err := p.valid(); err != nil {
			return err
		}
	}
	return nil
}
