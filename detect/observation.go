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
	Care     *home.Care  // what was done with or for a cat
	Visit    *home.Visit // by name: to a litter box, or a meal or a drink. Its weighing comes on its own
	Box      bool        // the Visit, or the Weighing, was on a litter box
	Heard    time.Time   // a scale spoke
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
	case o.Care != nil:
		return o.Care.From
	case o.Visit != nil:
		return o.Visit.End
	}
	return o.Heard
}

// Cat is the id of the cat that was seen, "" where a scale was heard.
func (o Observation) Cat() string {
	switch {
	case o.Weighing != nil:
		return o.Weighing.Cat
	case o.Count != nil:
		return o.Count.Cat
	case o.Check != nil:
		return o.Check.Cat
	case o.Care != nil:
		return o.Care.Cat
	case o.Visit != nil:
		return o.Visit.Cat
	}
	return ""
}
