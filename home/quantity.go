package home

import (
	"fmt"
	"math"
	"strings"
)

// Quantity names what a reading measures.
type Quantity string

// The quantities, each with the unit it has inside the program.
const (
	Load        Quantity = "load"        // raw signal of a scale, kg
	Weight      Quantity = "weight"      // body mass, kg
	Breaths     Quantity = "breaths"     // breaths counted over a window
	Heartbeats  Quantity = "heartbeats"  // heart beats counted over a window
	Temperature Quantity = "temperature" // body temperature, Celsius
	Intake      Quantity = "intake"      // food eaten, g
	Drunk       Quantity = "drunk"       // water drunk, mL
	Deposit     Quantity = "deposit"     // what a litter-box visit left, g
	Stay        Quantity = "stay"        // time in the box, s
	Tag         Quantity = "tag"         // number of a microchip that a reader beside the scale has read
	Battery     Quantity = "battery"     // charge left in a device, %
)

// trait is what is fixed about a quantity: its dimension and UCUM unit inside
// the program, and the values that a sensor in a house can mean. The gates are
// wide on purpose: they stop a wrong unit or a broken cell, not an unwell cat.
type trait struct {
	quantity Quantity
	dim      dimension
	unit     string
	min, max float64
}

// traits are looked through from the front for every reading: what comes most often
// is first.
var traits = []trait{
	{Load, mass, "kg", -500, 500},
	{Weight, mass, "kg", 0.03, 30}, // a newborn kitten weighs about 0.1 kg
	{Breaths, count, "{count}", 0, 600},
	{Heartbeats, count, "{count}", 0, 1200},
	{Temperature, temperature, "Cel", 25, 45},
	{Intake, mass, "g", 0, 2000},
	{Drunk, volume, "mL", 0, 5000},
	{Deposit, mass, "g", -500, 2000},
	{Stay, duration, "s", 0, 24 * 3600},
	{Tag, count, "1", 1e12, 999e12 + mostNational},
	{Battery, share, "%", 0, 100},
}

// trait is nil for an unknown quantity.
func (q Quantity) trait() *trait {
	for i := range traits {
		if traits[i].quantity == q {
			return &traits[i]
		}
	}
	return nil
}

// Quantities lists every quantity in a fixed order.
func Quantities() []Quantity {
	all := make([]Quantity, len(traits))
	for i, t := range traits {
		all[i] = t.quantity
	}
	return all
}

// ParseQuantity returns the quantity named s, or an error that lists the names.
func ParseQuantity(s string) (Quantity, error) {
	if t := Quantity(s).trait(); t != nil {
		return t.quantity, nil // as it is mostly written, without a copy of it
	}
	if t := Quantity(strings.ToLower(strings.TrimSpace(s))).trait(); t != nil {
		return t.quantity, nil
	}
	names := make([]string, 0, len(traits))
	for _, q := range Quantities() {
		names = append(names, string(q))
	}
	return "", fmt.Errorf("unknown quantity %q: use one of %s", s, strings.Join(names, ", "))
}

// Unit returns the UCUM unit of q inside the program, "" for an unknown quantity.
func (q Quantity) Unit() string {
	if t := q.trait(); t != nil {
		return t.unit
	}
	return ""
}

// Counted reports whether q is counted over a window of time.
func (q Quantity) Counted() bool { return q == Breaths || q == Heartbeats }

// Gate returns an error if v, in q's own unit, is no value that a sensor or a
// person in a house can have meant.
func (q Quantity) Gate(v float64) error {
	t := q.trait()
	switch {
	case t == nil:
		return fmt.Errorf("unknown quantity %q", string(q))
	case math.IsNaN(v) || math.IsInf(v, 0):
		return fmt.Errorf("%s of %v is not a number", q, v)
	case v < t.min || v > t.max:
		return fmt.Errorf("%s of %.6g %s is outside %.6g to %.6g: check the unit and the scale", q, v, t.unit, t.min, t.max)
	case (q.Counted() || q == Tag) && v != math.Trunc(v):
		return fmt.Errorf("%s of %.6g is not a whole number", q, v)
	}
	return nil
}
