package home

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Seen is what one part of a cat was like when a person looked at it. What holds
// is one of the part's values, or Usual; a part with a unit may have a number
// beside it or in its place.
type Seen struct {
	Part   Part
	Side   Side     `json:",omitempty"`
	Values []string `json:",omitempty"` // in the order of the part's; just Usual where all was as always
	Number float64  `json:",omitempty"` // in the part's unit; meaningful where HasNumber
	// HasNumber tells a score of 0 from none.
	HasNumber bool `json:",omitempty"`
}

// Is reports whether the value holds in s.
func (s Seen) Is(value string) bool { return slices.Contains(s.Values, value) }

// Valid returns nil if s can be stored, or what is wrong with it.
func (s Seen) Valid() error {
	t, ok := partTraits[s.Part]
	if !ok {
		return fmt.Errorf("unknown part %q of a home check", string(s.Part))
	}
	if _, ok := ParseSide(string(s.Side)); !ok || s.Side != "" && !t.Sides {
		return fmt.Errorf("%s has no side %q", s.Part, string(s.Side))
	}
	if len(s.Values) == 0 && !s.HasNumber {
		return fmt.Errorf("%s: nothing is said of it", s.Part)
	}
	if err := s.validValues(t); err != nil {
		return err
	}
	return s.validNumber(t)
}

func (s Seen) validValues(t PartTrait) error {
	if len(s.Values) > 1 && !t.Many {
		return fmt.Errorf("%s: one value at a time, not %s", s.Part, strings.Join(s.Values, " and "))
	}
	for i, v := range s.Values {
		switch {
		case v == Usual && !t.NoUsual && len(s.Values) == 1:
		case !slices.Contains(t.Values, v):
			return fmt.Errorf("%s cannot be %q: use one of %s", s.Part, v, strings.Join(t.Values, ", "))
		case slices.Contains(s.Values[:i], v):
			return fmt.Errorf("%s: %q is said twice", s.Part, v)
		}
	}
	return nil
}

func (s Seen) validNumber(t PartTrait) error {
	switch {
	case !s.HasNumber && s.Number != 0:
		return fmt.Errorf("%s has a number that is said to be none", s.Part)
	case !s.HasNumber:
		return nil
	case t.Unit == "":
		return fmt.Errorf("%s has no number", s.Part)
	case !(s.Number >= t.Min && s.Number <= t.Max): // also refuses NaN
		return fmt.Errorf("%s of %g is outside %g to %g", s.Part, s.Number, t.Min, t.Max)
	case t.Whole && s.Number != math.Trunc(s.Number):
		return fmt.Errorf("%s of %g is not a whole number", s.Part, s.Number)
	}
	return nil
}

// RedFlag is the red flag that what s says amounts to, if any.
func (s Seen) RedFlag() (RedFlag, bool) {
	for _, r := range []struct {
		part  Part
		value string
		flag  RedFlag
	}{
		{Alertness, "cannot-be-roused", Collapse},
		{BreathLook, "open-mouth", OpenMouth},
		{BreathLook, "hard-work", HardBreath},
		{Gums, "white", GumColour},
		{Gums, "blue", GumColour},
		{Gums, "grey", GumColour},
		{Gait, "drags-hind-legs", HindLegs},
		{Urine, "strains-nothing-comes", Straining},
	} {
		if s.Part == r.part && s.Is(r.value) {
			return r.flag, true
		}
	}
	return "", false
}

// Words is what s says as a person reads it: "gum colour: pale".
func (s Seen) Words() string {
	var said []string
	for _, v := range s.Values {
		said = append(said, spaced(v))
	}
	if s.HasNumber {
		n := strconv.FormatFloat(s.Number, 'g', 4, 64)
		if t := partTraits[s.Part]; t.Whole {
			n += fmt.Sprintf(" of %g", t.Max)
		} else {
			n += " " + t.Unit
		}
		said = append(said, n)
	}
	what := s.Part.Words()
	if s.Side != "" {
		what += ", " + string(s.Side)
	}
	return what + ": " + strings.Join(said, ", ")
}

// Words is the part's name as a person reads it.
func (p Part) Words() string { return spaced(string(p)) }

func spaced(slug string) string { return strings.ReplaceAll(slug, "-", " ") }

// PainFace sums the features of a pain face. most is the highest sum that the
// features scored can have, 0 where none was: a feature that could not be seen
// counts in neither. A share over 0.39 of it is likely pain (Evangelista et al.
// 2019, Sci Rep 9:19128).
func PainFace(seen []Seen) (sum, most float64) {
	for _, s := range seen {
		if slices.Contains(FaceParts(), s.Part) && s.HasNumber {
			sum, most = sum+s.Number, most+partTraits[s.Part].Max
		}
	}
	return sum, most
}
