package replay

import (
	"encoding/json"
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/ingest/weigh"
)

// Run takes a history through the code that runs live: readings in time order
// in, visits and findings out. It is pure.
type Run struct {
	weigher  *weigh.Weigher
	house    *watch.House
	visits   map[visitID]home.Visit
	heard    map[string]time.Time // the minute in which each source last spoke
	turned   []home.Transition
	last     time.Time
	weighing home.Weighing // with a name, used again for each
}

type visitID struct {
	source string
	start  int64
}

// New returns a run of the household h, which must be valid, with scales
// that are as true as calibrations say.
func New(h home.Household, calibrations []home.Calibration, opt detect.Options) *Run {
	house := watch.NewHouse(opt)
	house.SetHousehold(h)
	return &Run{weigher: weigh.New(h, nil, calibrations), house: house,
		visits: map[visitID]home.Visit{}, heard: map[string]time.Time{}}
}

// Step takes the next reading, in time order.
func (run *Run) Step(r home.Reading) {
	r = r.Normal()
	run.weigher.Step(r)
	run.take(r.Time)
	if r.Cat != "" {
		run.learn(r)
	}
	if m := watch.Minute(r.Time); !run.heard[r.Source].Equal(m) {
		run.heard[r.Source] = m
		run.house.Add(r.Source, detect.Observation{Heard: m})
	}
	run.turned = append(run.turned, run.house.Advance(r.Time)...)
	run.last = r.Time
}

// learn takes in a reading that carries a cat's name.
func (run *Run) learn(r home.Reading) {
	switch r.Quantity {
	case home.Load:
		return
	case home.Weight:
		run.weighing = home.Weighing{Cat: r.Cat, Time: r.Time, Kg: r.Value, SDKg: r.SD, Source: r.Source, Confidence: 1}
		run.house.Add(r.Cat, detect.Observation{Weighing: &run.weighing})
	default:
		count := r // most readings are of no count: only those are kept
		run.house.Add(r.Cat, detect.Observation{Count: &count})
	}
}

// take lets time pass for the scales and takes in the visits that were named.
func (run *Run) take(now time.Time) {
	for _, v := range run.weigher.Release(now) {
		id := visitID{v.Source, v.Start.UnixMicro()}
		if old, ok := run.visits[id]; ok {
			run.drop(old)
		}
		v.End = v.End.UTC().Truncate(home.TimeStep) // as the store would give it back
		run.visits[id] = v
		for _, o := range observed(v) {
			run.house.Add(o.Cat(), o)
		}
	}
}

// observed is what a visit says of the cats.
func observed(v home.Visit) []detect.Observation {
	var obs []detect.Observation
	for _, w := range v.Weighings() {
		obs = append(obs, detect.Observation{Weighing: &w})
	}
	if v.Cat != "" {
		obs = append(obs, detect.Observation{Visit: &v})
	}
	return obs
}

// drop takes back what was observed of a visit that is about to get other names.
func (run *Run) drop(v home.Visit) {
	for _, old := range observed(v) {
		rest := slices.DeleteFunc(run.house.At(old.Cat(), old.Time()), func(o detect.Observation) bool {
			return o.Weighing != nil && old.Weighing != nil && *o.Weighing == *old.Weighing ||
				o.Visit != nil && old.Visit != nil && o.Visit.Source == v.Source && o.Visit.Start.Equal(v.Start)
		})
		run.house.Sync(old.Cat(), old.Time(), old.Time().Add(home.TimeStep), rest)
	}
}

// End lets enough time pass for what the last readings led to, and returns
// everything that happened, in time order.
func (run *Run) End() []Event {
	if !run.last.IsZero() {
		end := run.last.Add(weigh.Hold + watch.Lag + time.Minute)
		run.take(end)
		run.turned = append(run.turned, run.house.Advance(end)...)
	}
	var events []Event
	for _, v := range run.visits {
		events = append(events, visitEvent(v))
	}
	for _, t := range run.turned {
		if e, ok := findingEvent(t); ok {
			events = append(events, e)
		}
	}
	slices.SortFunc(events, func(a, b Event) int {
		if c := a.at.Compare(b.at); c != 0 {
			return c
		}
		return slices.Compare([]string{a.Event, a.Source, a.Cat, string(a.Sign)}, []string{b.Event, b.Source, b.Cat, string(b.Sign)})
	})
	return events
}

// Turned is everything that turned so far, with the turns that have no line of their own.
func (run *Run) Turned() []home.Transition { return run.turned }

// Event is one line of a replay. Which fields it has depends on Event: visit,
// scale (what a scale felt that was no weighing), finding, finding-worsened or
// finding-closed.
type Event struct {
	at         time.Time
	visit      *home.Visit
	transition *home.Transition

	Event  string    `json:"event"`
	Source string    `json:"source"`
	Cat    string    `json:"cat"`
	Sign   home.Sign `json:"sign"`
}

func visitEvent(v home.Visit) Event {
	return Event{at: v.Start, visit: &v, Event: "visit", Source: v.Source, Cat: v.Cat}
}

// findingEvent is a turn as a line; a turn in between has none.
func findingEvent(t home.Transition) (Event, bool) {
	f := t.Finding
	e := Event{at: t.At, transition: &t, Event: "finding", Source: f.Source, Cat: f.Cat, Sign: f.Sign}
	switch t.Turn {
	case home.Raised:
	case home.Worsened:
		e.Event = "finding-worsened"
	case home.Closed:
		e.Event = "finding-closed"
	default:
		return Event{}, false
	}
	return e, true
}

// Visit returns the visit of a visit event.
func (e Event) Visit() (home.Visit, bool) {
	if e.visit == nil {
		return home.Visit{}, false
	}
	return *e.visit, true
}

// Transition returns the turn of a finding event.
func (e Event) Transition() (home.Transition, bool) {
	if e.transition == nil {
		return home.Transition{}, false
	}
	return *e.transition, true
}

// MarshalJSON writes the event as the format of a replay asks.
func (e Event) MarshalJSON() ([]byte, error) {
	switch {
	case e.visit != nil:
		return json.Marshal(visitLine(*e.visit))
	case e.Event == "finding-closed":
		f := e.transition.Finding
		return json.Marshal(closedLine{e.Event, f.Cat, f.Source, f.Sign, f.Closed.UTC(), f.Reason})
	}
	return json.Marshal(findingLine(e.Event, *e.transition))
}
