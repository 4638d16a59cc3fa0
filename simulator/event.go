package simulator

import (
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"time"

	"weighbeam/home"
)

// Kind is what an [Event] is. Kinds that a scale can tell have the name of the
// [home.Event] it should tell.
type Kind string

// The kinds of event.
const (
	Visit    Kind = Kind(home.CatVisit)
	Look     Kind = Kind(home.Look)     // front paws only
	Scooped  Kind = Kind(home.Scooped)  // LeftG is what the box lost
	ToppedUp Kind = Kind(home.ToppedUp) // LeftG is what it gained
	Knocked  Kind = Kind(home.Knocked)
	Moved    Kind = Kind(home.Moved) // litter changed: LeftG is new minus old
	Paw      Kind = "paw"            // pressed from outside
	Lid      Kind = "lid-lifted"
	Leaned   Kind = "leaned"         // MassKg is the greatest press of the hands
	Meal     Kind = Kind(home.Meal)  // LeftG is below zero: what the bowl lost
	Drink    Kind = Kind(home.Drink) // the same
	Silent   Kind = "silent"         // the scale was off from Start to End
	Counted  Kind = "counted"
	Weighed  Kind = "weighed" // by hand or in a clinic
	Onset    Kind = "onset"   // a change begins: Sign, Pace
)

// Guest stands in Event.Cat for a cat that does not live here.
const Guest = "guest"

// Event is the truth about one thing that happened.
type Event struct {
	Kind      Kind      `json:"event"`
	Start     time.Time `json:"start"`
	End       time.Time `json:"end"`
	Source    string    `json:"source,omitempty"`
	Cat       string    `json:"cat,omitempty"`        // who it was, Guest for a stranger
	With      string    `json:"with,omitempty"`       // the other cat in the box at the same time
	MassKg    float64   `json:"mass_kg,omitempty"`    // body mass on stepping in, food and bladder included
	LevelKg   float64   `json:"level_kg,omitempty"`   // the same without what comes and goes within days
	LeftG     float64   `json:"left_g"`               // change of the box from before to after
	UrineG    float64   `json:"urine_g,omitempty"`    // part of LeftG
	FaecesG   float64   `json:"faeces_g,omitempty"`   // part of LeftG
	ThrownG   float64   `json:"thrown_g,omitempty"`   // litter thrown out, taken off LeftG
	PerMinute float64   `json:"per_minute,omitempty"` // true rate of what was counted
	Faults    Fault     `json:"faults,omitzero"`      // which faults touched it
	Lost      bool      `json:"lost,omitempty"`       // no scale was on to see it
	Sign      home.Sign `json:"sign,omitempty"`       // of an onset
	Pace      float64   `json:"pace,omitempty"`       // of an onset: %/week, or 1/min a week
}

// writeEvents writes one JSON object a line.
func writeEvents(w io.Writer, events iter.Seq[Event]) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	for e := range events {
		if err := enc.Encode(e); err != nil {
			return fmt.Errorf("write truth: %w", err)
		}
	}
	return nil
}
