package home

import (
	"fmt"
	"strings"
)

// Given is something that the cat got: food, a treat, a medicine.
type Given struct {
	Kind   GivenKind
	What   string // in the keeper's words
	Amount string `json:",omitempty"` // as "85 g" or "half a tablet"
	Taken  Taken  `json:",omitempty"`
}

// GivenKind is the kind of what was given.
type GivenKind string

// The kinds of what is given.
const (
	Food       GivenKind = "food"
	Treat      GivenKind = "treat"
	Supplement GivenKind = "supplement"
	Medicine   GivenKind = "medicine"
)

// GivenKinds lists the kinds of what is given.
func GivenKinds() []GivenKind { return []GivenKind{Food, Treat, Supplement, Medicine} }

// Taken is how much of it the cat took; empty for not said.
type Taken string

// How much was taken.
const (
	TookAll    Taken = "all"
	TookMost   Taken = "most"
	TookHalf   Taken = "half"
	TookLittle Taken = "little"
	TookNone   Taken = "none"
)

// Takens lists how much can be taken.
func Takens() []Taken { return []Taken{TookAll, TookMost, TookHalf, TookLittle, TookNone} }

// Valid returns nil if g can be stored, or what is wrong with it.
func (g Given) Valid() error {
	switch g.Kind {
	case Food, Treat, Supplement, Medicine:
	default:
		return fmt.Errorf("unknown kind %q of what was given: use food, treat, supplement or medicine", string(g.Kind))
	}
	switch g.Taken {
	case "", TookAll, TookMost, TookHalf, TookLittle, TookNone:
	default:
		return fmt.Errorf("unknown share %q taken: use all, most, half, little or none", string(g.Taken))
	}
	if strings.TrimSpace(g.What) == "" {
		return fmt.Errorf("say what was given")
	}
	if len(g.What) > 500 || len(g.Amount) > 200 {
		return fmt.Errorf("keep what was given under 500 bytes and the amount under 200")
	}
	return nil
}
