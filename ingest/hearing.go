package ingest

import (
	"bytes"
	"cmp"
	"slices"
	"strings"
	"sync"
	"time"

	"weighbeam/home"
)

// What a [Hearing] remembers.
const (
	heardKept    = 256    // messages
	heardBytes   = 256    // of each payload
	heardShown   = 8      // readings of a message
	heardReason  = 512    // bytes of a reason
	heardTopic   = 256    // bytes of a topic; MQTT has them up to 65,535
	heardTopics  = 16_384 // topics; others are heard without rate and gap
	heardRecent  = 16     // arrivals that the rate of late is made of
	speakersMost = 500    // topics listed at once
)

// Hearing remembers the last messages as they arrived and were understood, for
// somebody who is wiring a scale up. It holds a bounded share of them and costs the
// committer next to nothing.
type Hearing struct {
	mu      sync.Mutex
	kept    []home.Heard // a ring: the message with ID n is at n modulo its length
	last    int64
	topics  map[string]*speaker
	changed chan struct{} // nil where nobody waits
	closed  chan struct{}
	end     sync.Once
}

// speaker is one topic.
type speaker struct {
	home.Speaker
	recent [heardRecent]time.Time // a ring by Count
}

// NewHearing returns a Hearing that has heard nothing.
func NewHearing() *Hearing {
	return &Hearing{kept: make([]home.Heard, heardKept), topics: map[string]*speaker{}, closed: make(chan struct{})}
}

// Hear takes in a message with what was made of it, and returns it as it is kept.
func (h *Hearing) Hear(d Delivery, readings []home.Reading, reason error) home.Heard {
	m := home.Heard{Time: d.Arrived, Way: d.Way, Topic: cutTopic(d.Topic), Bytes: len(d.Payload), Retained: d.Retained,
		Payload: bytes.Clone(d.Payload[:min(len(d.Payload), heardBytes)]), Readings: few(readings, heardShown), More: max(0, len(readings)-heardShown)}
	if reason != nil {
		m.Why = reason.Error()
		m.Why = m.Why[:min(len(m.Why), heardReason)]
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.last++
	m.ID = h.last
	if s := h.speaker(m.Topic); s != nil {
		m.Gap, m.PerSecond = s.hear(d.Arrived, reason != nil)
	}
	h.kept[m.ID%heardKept] = m
	if h.changed != nil {
		close(h.changed)
		h.changed = nil
	}
	return m
}

// few is the first most of all. Where those came alone, which is the rule, they are the
// same: nobody changes what was delivered. Else the rest is not held.
func few(all []home.Reading, most int) []home.Reading {
	if cap(all) <= most {
		return all
	}
	return slices.Clone(all[:min(len(all), most)])
}

// cutTopic is the beginning of a topic, in a text of its own: the rest of a long one is
// not held. Long topics that begin alike are heard as one.
func cutTopic(topic string) string {
	if len(topic) <= heardTopic {
		return topic
	}
	return strings.Clone(strings.ToValidUTF8(topic[:heardTopic], ""))
}

func (h *Hearing) speaker(topic string) *speaker {
	s := h.topics[topic]
	if s == nil && len(h.topics) < heardTopics {
		s = &speaker{Speaker: home.Speaker{Topic: topic}}
		h.topics[topic] = s
	}
	return s
}

// hear counts a message and returns the gap before it and the rate of late.
func (s *speaker) hear(at time.Time, bad bool) (gap time.Duration, rate float64) {
	if s.Count == 0 {
		s.First = at
	} else {
		gap = max(0, at.Sub(s.Last))
		s.Longest = max(s.Longest, gap)
	}
	s.recent[s.Count%heardRecent] = at
	s.Count++
	s.Last = at
	if bad {
		s.Bad++
	}
	n := min(s.Count, heardRecent)
	if span := at.Sub(s.recent[(s.Count-n)%heardRecent]); n > 1 && span > 0 {
		s.PerSecond = float64(n-1) / span.Seconds()
	}
	return gap, s.PerSecond
}

// After returns messages with an ID above after whose topic matches filter, oldest
// first, the newest limit of them, and the ID of the last that was heard. changed is
// closed by the next message.
func (h *Hearing) After(after int64, filter string, limit int) (list []home.Heard, last int64, changed <-chan struct{}) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for id := h.last; id > max(after, h.last-heardKept) && id > 0 && len(list) < limit; id-- {
		if m := h.kept[id%heardKept]; Match(filter, m.Topic) {
			list = append(list, m)
		}
	}
	slices.Reverse(list)
	if h.changed == nil {
		h.changed = make(chan struct{})
	}
	return list, h.last, h.changed
}

// Speakers returns the topics that match filter, those heard last first, at most
// some hundreds, and how many there are in all.
func (h *Hearing) Speakers(filter string) (list []home.Speaker, all int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for topic, s := range h.topics {
		if Match(filter, topic) {
			list = append(list, s.Speaker)
		}
	}
	slices.SortFunc(list, func(a, b home.Speaker) int { return cmp.Or(b.Last.Compare(a.Last), cmp.Compare(a.Topic, b.Topic)) })
	all = len(list)
	return list[:min(all, speakersMost)], all
}

// Close ends the wait of those who follow.
func (h *Hearing) Close() { h.end.Do(func() { close(h.closed) }) }

// Closed is closed when nobody should follow any more.
func (h *Hearing) Closed() <-chan struct{} { return h.closed }
