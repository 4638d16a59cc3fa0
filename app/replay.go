package app

import (
	"encoding/json"
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/ingest/weigh"
)

// Replay runs a history through the code that runs live: readings in time order
// in, visits and findings out. It is pure.
type Replay struct {
	weigher *weigh.Weigher
	house   *watch.House
	visits  map[visitID]home.Visit
	heard   map[string]time.Time // the minute in which each source last spoke
	turned  []home.Transition
	last    time.Time
}

type visitID struct {
	source string
	start  int64
}

// NewReplay returns a replay of the household h, which must be valid, with scales
// that are as true as calibrations say.
func NewReplay(h home.Household, calibrations []home.Calibration, opt detect.Options) *Replay {
	house := watch.NewHouse(opt)
	house.SetHousehold(h)
	return &Replay{weigher: weigh.New(h, nil, calibrations), house: house,
		visits: map[visitID]home.Visit{}, heard: map[string]time.Time{}}
}

// Step takes the next reading, in time order.
func (p *Replay) Step(r home.Reading) {
	r = r.Normal()
	p.weigher.Step(r)
	p.take(r.Time)
	if r.Cat != "" {
		p.learn(r)
	}
	if m := watch.Minute(r.Time); !p.heard[r.Source].Equal(m) {
		p.heard[r.Source] = m
		p.house.Add(r.Source, detect.Observation{Heard: m})
	}
	p.turned = append(p.turned, p.house.Advance(r.Time)...)
	p.last = r.Time
}

// learn takes in a reading that carries a cat's name.
func (p *Replay) learn(r home.Reading) {
	switch r.Quantity {
	case home.Load:
		return
	case home.Weight:
		w := home.Weighing{Cat: r.Cat, Time: r.Time, Kg: r.Value, SDKg: r.SD, Source: r.Source, Confidence: 1}
		p.house.Add(r.Cat, detect.Observation{Weighing: &w})
	default:
		count := r // most readings are of no count: only those are kept
		p.house.Add(r.Cat, detect.Observation{Count: &count})
	}
}

// take lets time pass for the scales and takes in the visits that were named.
func (p *Replay) take(now time.Time) {
	for _, v := range p.weigher.Release(now) {
		id := visitID{v.Source, v.Start.UnixMicro()}
		if old, ok := p.visits[id]; ok {
			p.drop(old)
		}
		v.End = v.End.UTC().Truncate(home.TimeStep) // as the store would give it back
		p.visits[id] = v
		for _, o := range observed(v) {
			p.house.Add(o.Cat(), o)
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
func (p *Replay) drop(v home.Visit) {
	for _, old := range observed(v) {
		rest := slices.DeleteFunc(p.house.At(old.Cat(), old.Time()), func(o detect.Observation) bool {
			return o.Weighing != nil && old.Weighing != nil && *o.Weighing == *old.Weighing ||
				o.Visit != nil && old.Visit != nil && o.Visit.Source == v.Source && o.Visit.Start.Equal(v.Start)
		})
		p.house.Sync(old.Cat(), old.Time(), old.Time().Add(home.TimeStep), rest)
	}
}

// End lets enough time pass for what the last readings led to, and returns
// everything that happened, in time order.
func (p *Replay) End() []Event {
	if !p.last.IsZero() {
		end := p.last.Add(weigh.Hold + watch.Lag + time.Minute)
		p.take(end)
		p.turned = append(p.turned, p.house.Advance(end)...)
	}
	var events []Event
	for _, v := range p.visits {
		events = append(events, visitEvent(v))
	}
	for _, t := range p.turned {
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
