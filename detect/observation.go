package detect

import (
	"time"

	"weighbeam/home"
)

// Observation is one thing seen of a cat, or of a scale: exactly one of its fields
// is set.
type Observation struct {
	Weighing *home.Weighing
	Count    *home.Reading // breaths, heartbeats, temperature and the like, with a cat
	Check    *home.HomeCheck
	Heard    time.Time // a scale spoke
}

// Time is when it was seen, zero for an empty observation.
func (o Observation) Time() time.Time {
	switch {
	case o.Weighing != nil:
		return o.Weighing.Time
	case o.Count != nil:
		return o.Count.Time
	case o.Check != nil:
		return o.Check.Time
	}
	return o.Heard
}
