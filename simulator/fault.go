package simulator

import (
	"encoding/json"
	"fmt"
	"math/bits"
	"strings"
)

// Fault is one thing that makes a signal or a history harder to read. Faults
// are bits, so a set of them is a Fault as well: Digging|Spikes.
type Fault uint32

// The faults. Each can be switched on by itself; without any, a cat walks in,
// sits and walks out, and the scale is perfect but for noise of a few grams.
// Without Scoop and LitterChange nobody empties a box: it gets heavier for ever.
const (
	TwoStep      Fault = 1 << iota // front half in first, the rest seconds later; out the same way
	Digging                        // before and after, with litter thrown out
	Turning                        // walks in circles before it settles
	JumpOut                        // leaves by a jump: a push, then nothing
	Restless                       // never stands still
	FrontPaws                      // a look with the front paws only: no weighing
	OutsidePaw                     // a paw from outside presses the rim
	Knock                          // somebody bumps into the box
	InTurn                         // the next cat steps in as the last steps out
	AtOnce                         // two cats in the box together
	Stranger                       // a cat that does not live here
	Scoop                          // a person takes the clumps out
	TopUp                          // a person adds litter
	LitterChange                   // lifted off, emptied, filled, put back
	LidLifted                      // the lid comes off for a while
	Lean                           // hands lean in with 2 to 6 kg
	Thermal                        // the zero follows the warmth of the day
	Creep                          // the cell gives way slowly under load
	ZeroDrift                      // the zero wanders over weeks
	Dropout                        // samples missing within a visit
	Saturated                      // the cell ends below what stands on it
	Stuck                          // the same value again and again within a visit
	Spikes                         // single samples far off
	Quantised                      // rounded to 5, 10, 20 or 50 g
	DeadBand                       // sent only on a change of 25 g, with heartbeats
	Gap                            // a scale is off for hours or days
	Outlier                        // 1.5 % of settled weights are grossly wrong
	Evaporation                    // what is wet dries: a bowl by a gram an hour, a box by less
	Jitter                         // samples come unevenly, off by up to a third of their distance
	faultEnd
)

// NoFault and AllFaults are the ends of the range.
const (
	NoFault   Fault = 0
	AllFaults Fault = faultEnd - 1
)

var faultNames = [...]string{
	"two-step", "digging", "turning", "jump-out", "restless", "front-paws", "outside-paw", "knock",
	"in-turn", "at-once", "stranger", "scoop", "top-up", "litter-change", "lid-lifted", "lean",
	"thermal", "creep", "zero-drift", "dropout", "saturated", "stuck", "spikes", "quantised",
	"dead-band", "gap", "outlier", "evaporation", "jitter",
}

// Has reports whether every fault of g is in f.
func (f Fault) Has(g Fault) bool { return f&g == g }

// Each lists the single faults of f, in a fixed order.
func (f Fault) Each() []Fault {
	each := make([]Fault, 0, bits.OnesCount32(uint32(f)))
	for b := Fault(1); b < faultEnd; b <<= 1 {
		if f.Has(b) {
			each = append(each, b)
		}
	}
	return each
}

// Names lists the names of the single faults of f.
func (f Fault) Names() []string {
	names := []string{}
	for _, b := range f.Each() {
		names = append(names, faultNames[bits.TrailingZeros32(uint32(b))])
	}
	return names
}

// String is the names of f with commas, "none" for no fault.
func (f Fault) String() string {
	if f == NoFault {
		return "none"
	}
	return strings.Join(f.Names(), ",")
}

// MarshalJSON writes f as a list of names.
func (f Fault) MarshalJSON() ([]byte, error) { return json.Marshal(f.Names()) }

// UnmarshalJSON reads what MarshalJSON wrote.
func (f *Fault) UnmarshalJSON(b []byte) error {
	var names []string
	if err := json.Unmarshal(b, &names); err != nil {
		return err
	}
	set, err := ParseFaults(strings.Join(names, ","))
	*f = set
	return err
}

// ParseFaults reads names with commas; "all" and "none" are names too, and a
// name with a dash in front is taken away: "all,-gap".
func ParseFaults(s string) (Fault, error) {
	set := NoFault
	for _, word := range strings.Split(s, ",") {
		name, off := strings.CutPrefix(strings.TrimSpace(word), "-")
		f, err := parseFault(name)
		if err != nil {
			return NoFault, err
		}
		if off {
			set &^= f
		} else {
			set |= f
		}
	}
	return set, nil
}

func parseFault(name string) (Fault, error) {
	switch name {
	case "", "none":
		return NoFault, nil
	case "all":
		return AllFaults, nil
	}
	for i, known := range faultNames {
		if name == known {
			return 1 << i, nil
		}
	}
	return NoFault, fmt.Errorf("unknown fault %q: use all, none or some of %s", name, AllFaults)
}
