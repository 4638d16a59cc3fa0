package simulator

import (
	"slices"
	"time"

	"weighbeam/home"
)

// happening is an event on its way: the truth, and what is needed to show it.
type happening struct {
	Event
	d       dice          // its own
	serial  uint64        // names its random streams
	box     int           // index of the scale, -1 for none
	hand    *home.Reading // what a person or a clinic reports
	forced  bool          // goes in although somebody is there
	who     int           // index of the cat, -1 for none, len(cats) for a stranger
	before  float64       // kg on the scale before it
	planned time.Duration // how long, where that was settled before
}

// agenda is the happenings of one day that are still to come, in time order.
type agenda []happening

func (a *agenda) add(h happening) {
	i, _ := slices.BinarySearchFunc(*a, h, func(e, target happening) int {
		if e.Start.After(target.Start) {
			return 1
		}
		return -1 // equal ones go behind: first come, first served
	})
	*a = slices.Insert(*a, i, h)
}

func (a *agenda) pop() happening {
	first := (*a)[0]
	*a = (*a)[1:]
	return first
}
