package home

import (
	"fmt"
	"time"
)

// Sources that are no device.
const (
	Hand   = "hand"   // a person at home
	Clinic = "clinic" // a veterinary practice
)

// State says how a cat was while something was counted. Counts of different
// states never share a baseline: awake counts run higher than sleeping ones,
// and counts in a clinic are another variable altogether.
type State string

// The states of a counted cat.
const (
	Asleep   State = "asleep"
	Resting  State = "resting"
	Active   State = "active"
	AtClinic State = "clinic"
)

// ParseState returns the state named s; the empty string is no state.
func ParseState(s string) (State, error) {
	switch st := State(s); st {
	case "", Asleep, Resting, Active, AtClinic:
		return st, nil
	}
	return "", fmt.Errorf("unknown state %q: use asleep, resting, active or clinic", s)
}

// Clock says where a reading's time comes from.
type Clock string

// The clocks a reading may be dated by.
const (
	ByDevice  Clock = "device"  // the device sent the time
	ByArrival Clock = "arrival" // the device has no clock: when it reached the house
	ByHand    Clock = "hand"    // a person said when
)

// Reading is one number from one source at one time, in its quantity's own unit.
// Source, Quantity, Time and Seq together identify it: the same reading
// delivered twice is one reading.
type Reading struct {
	Source   string
	Quantity Quantity
	Time     time.Time     // when it was true
	Seq      int64         // the device's own sequence number, 0 where it sends none
	Value    float64       // in Quantity.Unit()
	SD       float64       // standard uncertainty in the same unit, 0 where not stated
	Cat      string        // id of the cat, "" where unknown
	Window   time.Duration // how long was counted, for counts only
	State    State         // how the cat was, for counts only
	Note     string
	Arrived  time.Time // when it reached the house
	Clock    Clock
	Retained bool // a copy that a broker kept; nothing is found from such a copy alone
	Resent   bool `json:"-"` // its sender says that it may have come before; not kept
}

// TimeStep is the finest time kept. Readings are dated in whole steps so that a
// time survives the store, the CSV file and a comparison unchanged.
const TimeStep = time.Microsecond

// Normal returns r with its times in UTC, cut to TimeStep.
func (r Reading) Normal() Reading {
	r.Time, r.Arrived = inSteps(r.Time), inSteps(r.Arrived)
	return r
}

// inSteps is t in UTC, cut to TimeStep, without the division that Truncate makes: every
// reading of a history goes through here, most of them twice.
func inSteps(t time.Time) time.Time {
	t = t.UTC().Round(0) // off the monotonic clock
	if over := time.Duration(t.Nanosecond()) % TimeStep; over != 0 {
		return t.Add(-over)
	}
	return t
}

// Valid returns nil if r can be stored, or what is wrong with it.
func (r Reading) Valid() error {
	if err := ValidID("source", r.Source); err != nil {
		return err
	}
	if r.Cat != "" {
		if err := ValidID("cat", r.Cat); err != nil {
			return err
		}
	}
	if y := r.Time.Year(); y < 1970 || y > 2200 {
		return fmt.Errorf("time %s is not between 1970 and 2200", r.Time.Format(time.RFC3339))
	}
	if err := r.Quantity.Gate(r.Value); err != nil {
		return err
	}
	if !(r.SD >= 0) || r.SD > 1e6 { // also refuses NaN
		return fmt.Errorf("standard uncertainty %v is not zero or more", r.SD)
	}
	if len(r.Note) > MaxNote {
		return fmt.Errorf("note has %d bytes: keep it under %d", len(r.Note), MaxNote)
	}
	return r.validCount()
}

// MaxNote is how long a note may be, in bytes.
const MaxNote = 8 << 10

func (r Reading) validCount() error {
	if !r.Quantity.Counted() {
		if r.Window != 0 || r.State != "" {
			return fmt.Errorf("%s has a window or a state: only counts have them", r.Quantity)
		}
		return nil
	}
	if r.Window < 5*time.Second || r.Window > time.Hour {
		return fmt.Errorf("%s needs a window_s between 5 and 3600, got %g", r.Quantity, r.Window.Seconds())
	}
	if r.State == "" {
		return fmt.Errorf("%s needs a state: asleep, resting, active or clinic", r.Quantity)
	}
	_, err := ParseState(string(r.State))
	return err
}

// PerMinute returns the rate of a count, per minute; 0 for other quantities.
func (r Reading) PerMinute() float64 {
	if !r.Quantity.Counted() || r.Window <= 0 {
		return 0
	}
	return r.Value / r.Window.Minutes()
}
