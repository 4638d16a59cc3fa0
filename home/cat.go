package home

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
)

// Cat is one animal of the house.
type Cat struct {
	ID       string // a slug
	Name     string
	Born     time.Time // midnight UTC; the first of January where only the year is known
	BornYear bool      // only the year is known
	Sex      string    // "female", "male" or "" for not known
	Neutered bool
	WeightKg float64 // where to start from, 0 for not known
	Chip     string  `json:",omitempty"` // number of the microchip, as a practice reads it; "" for none or not known
}

// Valid returns nil if c can be used, or what is wrong with it.
func (c Cat) Valid() error {
	if err := ValidID("cat id", c.ID); err != nil {
		return err
	}
	switch {
	case c.ID == Hand || c.ID == Clinic:
		return fmt.Errorf("cat id %q is a word of the program: choose another", c.ID)
	case strings.TrimSpace(c.Name) == "":
		return fmt.Errorf("cat %q needs a name", c.ID)
	case len(c.Name) > 200:
		return fmt.Errorf("cat %q: keep the name under 200 bytes", c.ID)
	case c.Sex != "" && c.Sex != "female" && c.Sex != "male":
		return fmt.Errorf("cat %q: sex is female, male or left out, not %q", c.ID, c.Sex)
	case len(c.Chip) > 40 || strings.ContainsFunc(c.Chip, unicode.IsControl):
		return fmt.Errorf("cat %q: keep the chip number under 40 letters, on one line", c.ID)
	case c.WeightKg != 0 && Weight.Gate(c.WeightKg) != nil:
		return fmt.Errorf("cat %q: %w", c.ID, Weight.Gate(c.WeightKg))
	}
	return nil
}

// Kind is what a scale stands under.
type Kind string

// The kinds of scale.
const (
	LitterBox Kind = "litter-box"
	Feeder    Kind = "feeder"
	Water     Kind = "water"
	Floor     Kind = "floor"
)

// Scale is a device that sends readings, and how to understand it.
type Scale struct {
	ID      string
	Kind    Kind
	Cats    []string // ids of those who use it; empty: all
	Topic   string   // MQTT topic filter; empty: it sends by other ways
	Payload string   // "senml", "senml-cbor", "number", "json:PATH", "line:FIELD" or "csv"; empty: senml
	Unit    string   // UCUM unit of its numbers; empty: kg
	// Where a tag reader stands beside it: the topic filter of the reader where it has
	// one of its own, and how to read what it sends there, "number" (also when empty),
	// "json:PATH" or "senml". On the scale's own topic, Payload says where the tag is.
	TagTopic   string   `json:",omitempty"`
	TagPayload string   `json:",omitempty"`
	Sends      Quantity // what a bare number means: Load (also when empty), or Weight from a device that sends one settled value a stay
}

// Valid returns nil if s can be used, or what is wrong with it.
func (s Scale) Valid() error {
	if err := ValidID("scale id", s.ID); err != nil {
		return err
	}
	if s.ID == Hand || s.ID == Clinic {
		return fmt.Errorf("scale id %q is a word of the program: choose another", s.ID)
	}
	switch s.Kind {
	case LitterBox, Feeder, Water, Floor:
	default:
		return fmt.Errorf("scale %q: kind is litter-box, feeder, water or floor, not %q", s.ID, s.Kind)
	}
	if s.Measures() != Load && s.Measures() != Weight {
		return fmt.Errorf("scale %q: it sends load or weight, not %q", s.ID, s.Sends)
	}
	if s.Unit != "" {
		if _, err := Convert(0, s.Unit, s.Measures()); err != nil {
			return fmt.Errorf("scale %q: %w", s.ID, err)
		}
	}
	return nil
}

// Measures is the quantity that a bare number from s stands for.
func (s Scale) Measures() Quantity {
	if s.Sends == "" {
		return Load
	}
	return s.Sends
}

// Serves reports whether the cat uses s.
func (s Scale) Serves(cat string) bool {
	return len(s.Cats) == 0 || slices.Contains(s.Cats, cat)
}

// Household is who lives in a house, what weighs them, and who is told.
type Household struct {
	Cats     []Cat
	Scales   []Scale
	Contacts []Contact `json:",omitempty"`
	Practice string    `json:",omitempty"` // name of the veterinary practice
	Phone    string    `json:",omitempty"` // its telephone number

	// Of the house, "" where the settings say: kg or lb, the IANA name of its time zone,
	// and the hours, as 22:00, in which only what is urgent is told.
	Units, Zone, QuietFrom, QuietTo string `json:",omitempty"`
}

// Valid returns nil if every part of h is well formed and the parts agree.
func (h Household) Valid() error {
	seen := map[string]string{}
	add := func(what, id string) error {
		if other, ok := seen[id]; ok {
			return fmt.Errorf("%s %q: the id is taken by a %s", what, id, other)
		}
		seen[id] = what
		return nil
	}
	for _, c := range h.Cats {
		if err := c.Valid(); err != nil {
			return err
		}
		if err := add("cat", c.ID); err != nil {
			return err
		}
	}
	for _, s := range h.Scales {
		if err := s.Valid(); err != nil {
			return err
		}
		if err := add("scale", s.ID); err != nil {
			return err
		}
		for _, id := range s.Cats {
			if _, ok := h.Cat(id); !ok {
				return fmt.Errorf("scale %q names the cat %q, which is not in the household", s.ID, id)
			}
		}
	}
	if err := h.validWays(); err != nil {
		return err
	}
	return h.validContacts()
}

// validWays is Valid of what the house goes by.
func (h Household) validWays() error {
	if h.Units != "" && h.Units != "kg" && h.Units != "lb" {
		return fmt.Errorf("units are kg or lb, not %q", h.Units)
	}
	if _, err := time.LoadLocation(h.Zone); err != nil || h.Zone == "Local" {
		return fmt.Errorf(`%q is no time zone: write it as "Europe/Vienna"`, h.Zone)
	}
	return validQuiet("the house", h.QuietFrom, h.QuietTo)
}

// validContacts is Valid of the contacts, whose names are channels: no cat's or scale's
// name can be mistaken for them.
func (h Household) validContacts() error {
	seen := map[string]bool{}
	for _, c := range h.Contacts {
		if err := c.Valid(); err != nil {
			return err
		}
		if seen[c.ID] {
			return fmt.Errorf("contact %q is there twice", c.ID)
		}
		seen[c.ID] = true
	}
	return nil
}

// Contact returns the contact with that id.
func (h Household) Contact(id string) (Contact, bool) {
	i := slices.IndexFunc(h.Contacts, func(c Contact) bool { return c.ID == id })
	if i < 0 {
		return Contact{}, false
	}
	return h.Contacts[i], true
}

// SameHome reports whether h and other are the same but for who is told: nothing that
// was measured is then understood in another way.
func (h Household) SameHome(other Household) bool {
	return slices.Equal(h.kept(), other.kept())
}

// kept is what SameHome compares, as it is kept: an empty list and none are the same.
func (h Household) kept() (all []string) {
	for _, c := range h.Cats {
		all = append(all, fmt.Sprintf("%+v %d", c, c.Born.Unix()))
	}
	for _, s := range h.Scales {
		all = append(all, fmt.Sprintf("%+v", s))
	}
	return all
}

// Mark is the same for households that are the same, and another for others: who
// changes one says by it which one was looked at.
func (h Household) Mark() string {
	all := h.kept()
	for _, c := range h.Contacts {
		all = append(all, fmt.Sprintf("%+v", c))
	}
	all = append(all, h.Practice, h.Phone, h.Units, h.Zone, h.QuietFrom, h.QuietTo)
	sum := sha256.Sum256(fmt.Appendf(nil, "%q", all))
	return hex.EncodeToString(sum[:16])
}

// Cat returns the cat with that id.
func (h Household) Cat(id string) (Cat, bool) {
	i := slices.IndexFunc(h.Cats, func(c Cat) bool { return c.ID == id })
	if i < 0 {
		return Cat{}, false
	}
	return h.Cats[i], true
}

// Scale returns the scale with that id.
func (h Household) Scale(id string) (Scale, bool) {
	i := slices.IndexFunc(h.Scales, func(s Scale) bool { return s.ID == id })
	if i < 0 {
		return Scale{}, false
	}
	return h.Scales[i], true
}

// ValidID returns nil if id is a slug: small letters, digits, dot, dash and
// underscore, at most 63 of them. what names the thing in the error.
func ValidID(what, id string) error {
	if !isSlug(id) {
		return fmt.Errorf("%s %q is not a slug: use small letters, digits, '.', '-' and '_', at most 63", what, id)
	}
	return nil
}

// isSlug is done by hand: every reading of a history is checked.
func isSlug(id string) bool {
	for i := range len(id) {
		switch c := id[i]; {
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
		case i > 0 && (c == '.' || c == '-' || c == '_'):
		default:
			return false
		}
	}
	return len(id) >= 1 && len(id) <= 63
}
