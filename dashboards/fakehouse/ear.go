package fakehouse

import (
	"slices"
	"sync"
	"time"

	"weighbeam/home"
)

// Ear is what arrives at a made-up house.
type Ear struct {
	mu      sync.Mutex
	all     []home.Heard
	changed chan struct{}
	closed  chan struct{}
	end     sync.Once
}

// NewEar returns an ear that has heard a scale twice, and a topic that nobody claims.
func NewEar() *Ear {
	e := &Ear{changed: make(chan struct{}), closed: make(chan struct{})}
	at := Now.Add(-time.Minute)
	load := func(v float64) []home.Reading {
		return []home.Reading{{Source: "hall-box", Quantity: home.Load, Time: at, Value: v, Clock: home.ByArrival}}
	}
	e.Say(home.Heard{Time: at, Way: "mqtt", Topic: "house/hall/box", Payload: []byte("9.437"), Bytes: 5, Readings: load(9.437)})
	e.Say(home.Heard{Time: at.Add(time.Second), Way: "mqtt", Topic: "house/cellar/scale", Payload: []byte("81.4"), Bytes: 4, Why: "no scale claims this topic", Retained: true})
	e.Say(home.Heard{Time: at.Add(10 * time.Second), Way: "mqtt", Topic: "house/hall/box", Payload: []byte("9.441"), Bytes: 5, Readings: load(9.441), Gap: 10 * time.Second, PerSecond: 0.1})
	return e
}

// Say lets a message arrive.
func (e *Ear) Say(m home.Heard) {
	e.mu.Lock()
	defer e.mu.Unlock()
	m.ID = int64(len(e.all)) + 1
	e.all = append(e.all, m)
	close(e.changed)
	e.changed = make(chan struct{})
}

// After returns what was heard after a message, on a topic or on all.
func (e *Ear) After(after int64, filter string, limit int) ([]home.Heard, int64, <-chan struct{}) {
	e.mu.Lock()
	defer e.mu.Unlock()
	list := keep(e.all, func(m home.Heard) bool { return m.ID > after && (filter == "#" || filter == m.Topic) })
	return slices.Clone(list[max(0, len(list)-limit):]), int64(len(e.all)), e.changed
}

// Speakers are the topics that were heard.
func (e *Ear) Speakers(filter string) ([]home.Speaker, int) {
	all, _, _ := e.After(0, filter, 1000)
	var list []home.Speaker
	for _, m := range all {
		i := slices.IndexFunc(list, func(s home.Speaker) bool { return s.Topic == m.Topic })
		if i < 0 {
			list = append(list, home.Speaker{Topic: m.Topic, First: m.Time})
			i = len(list) - 1
		}
		s := &list[i]
		s.Count, s.Last, s.PerSecond, s.Longest = s.Count+1, m.Time, m.PerSecond, max(s.Longest, m.Gap)
		if m.Why != "" {
			s.Bad++
		}
	}
	return list, len(list)
}

// Close ends the wait of who follows.
func (e *Ear) Close() { e.end.Do(func() { close(e.closed) }) }

// Closed is closed by Close.
func (e *Ear) Closed() <-chan struct{} { return e.closed }

// Listened is the lived house with something to listen to.
func Listened() *House {
	h := Lived()
	h.Ear = NewEar()
	return h
}
