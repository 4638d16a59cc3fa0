package simulator

import (
	"io"
	"iter"
	"slices"
	"time"

	"weighbeam/home"
)

// House is a household that can be read again and again, always the same.
type House struct {
	opt        Options
	profiles   []Profile
	scales     []home.Scale
	devices    []Device
	start, end time.Time
	guestKg    float64 // body mass of the stranger
}

// Household is who lives there and what weighs them.
func (h *House) Household() home.Household {
	hh := home.Household{Scales: slices.Clone(h.scales)}
	for _, p := range h.profiles {
		hh.Cats = append(hh.Cats, p.Cat)
	}
	return hh
}

// Profiles is what is true of each cat, in the order of the household.
func (h *House) Profiles() []Profile { return slices.Clone(h.profiles) }

// End is when the history stops and live data begin.
func (h *House) End() time.Time { return h.end }

// days lives the house from its start, a day at a time and without end.
func (h *House) days() iter.Seq[[]happening] {
	return func(yield func([]happening) bool) {
		for l := newLife(h); yield(l.live()); {
		}
	}
}

// Events is the truth in order of start, up to the end of the history.
func (h *House) Events() iter.Seq[Event] { return h.between(h.start, h.end) }

// EventsFrom is the truth about what starts at from or later, without end.
func (h *House) EventsFrom(from time.Time) iter.Seq[Event] {
	return h.between(from, from.AddDate(1000, 0, 0))
}

func (h *House) between(from, to time.Time) iter.Seq[Event] {
	return func(yield func(Event) bool) {
		for day := range h.days() {
			for _, e := range day {
				if !e.Start.Before(to) {
					return
				}
				if !e.Start.Before(from) && !yield(e.Event) {
					return
				}
			}
		}
	}
}

// Truth is [House.Events] as a slice.
func (h *House) Truth() []Event { return slices.Collect(h.Events()) }

// WriteTruth writes [House.Events] as one JSON object a line.
func (h *House) WriteTruth(w io.Writer) error { return writeEvents(w, h.Events()) }
