package simulator

import (
	"iter"
	"time"

	"weighbeam/home"
)

// chunk is how much time is made at once: memory holds the samples of so long.
const chunk = int64(time.Minute / time.Microsecond)

// latency is how long a message is under way.
const latency = 120 * time.Millisecond

// Live carries the house on from a time, without end: each message of each box
// as a raw load in kg, box and litter included, in time order, and what people
// count and weigh ([home.Hand], [home.Clinic]). What it gives for a time does
// not depend on where it began.
func (h *House) Live(from time.Time) iter.Seq[home.Reading] {
	return func(yield func(home.Reading) bool) {
		newMixer(h, from).run(yield)
	}
}

// Load is the raw signal from the start of the house to the end of its history.
func (h *House) Load() iter.Seq[home.Reading] {
	return func(yield func(home.Reading) bool) {
		for r := range h.Live(h.start) {
			if !r.Time.Before(h.end) || !yield(r) {
				return
			}
		}
	}
}

// mixer makes the signals of all scales and puts them in one order.
type mixer struct {
	h      *House
	fromUS int64
	warmUS int64 // scales work from then, a day before anything is shown
	life   *life
	scales []*scale
	parts  [][]sample // of each scale, made and not yet given
	heads  []int      // the next of each
	hand   outbox
}

func newMixer(h *House, from time.Time) *mixer {
	m := &mixer{h: h, fromUS: from.UnixMicro(), life: newLife(h)}
	m.warmUS = max(m.fromUS-dayUS, h.start.UnixMicro())
	m.parts, m.heads = make([][]sample, len(h.scales)), make([]int, len(h.scales))
	return m
}

func (m *mixer) run(yield func(home.Reading) bool) {
	for {
		begins := m.life.dayStart(m.life.day).UnixMicro()
		ends := m.life.dayStart(m.life.day + 1).UnixMicro()
		if m.scales == nil && ends > m.warmUS {
			for _, b := range m.life.boxes {
				b.dry(time.UnixMicro(begins))
				s := newScale(b, m.h, begins)
				if off := b.off.UnixMicro(); off > begins {
					s.silences = append(s.silences, [2]int64{begins, off})
				}
				m.scales = append(m.scales, s)
			}
		}
		m.take(m.life.live())
		if m.scales == nil {
			continue
		}
		for t := begins; t < ends; t += chunk {
			if !m.flush(min(t+chunk, ends), yield) {
				return
			}
		}
	}
}

// take hands the happenings of a day to the scales.
func (m *mixer) take(day []happening) {
	for i := range day {
		e := &day[i]
		if e.hand != nil {
			m.hand.add(*e.hand)
		}
		if m.scales == nil || e.box < 0 {
			continue
		}
		s := m.scales[e.box]
		if e.Kind == Silent {
			s.silences = append(s.silences, [2]int64{e.Start.UnixMicro(), e.End.UnixMicro()})
			continue
		}
		s.queue = append(s.queue, m.h.choreograph(e, m.life.boxes[e.box]))
	}
}

// flush gives everything dated before a time.
func (m *mixer) flush(until int64, yield func(home.Reading) bool) bool {
	for i, s := range m.scales {
		m.parts[i] = s.advance(until, m.parts[i], i)
	}
	hand := m.hand.until(time.UnixMicro(until))
	for {
		first := m.earliest(until)
		var r home.Reading
		switch {
		case len(hand) > 0 && (first < 0 || hand[0].Time.UnixMicro() <= m.parts[first][m.heads[first]].us):
			r, hand = hand[0], hand[1:]
		case first >= 0:
			r = m.reading(m.parts[first][m.heads[first]])
			m.heads[first]++
		default:
			m.keep()
			return true
		}
		if r.Time.UnixMicro() >= m.fromUS && !yield(r) {
			return false
		}
	}
}

// earliest is the scale whose next sample comes first, -1 for none left before
// a time.
func (m *mixer) earliest(until int64) int {
	first := -1
	for i, part := range m.parts {
		at := m.heads[i]
		if at < len(part) && part[at].us < until && (first < 0 || part[at].us < m.parts[first][m.heads[first]].us) {
			first = i
		}
	}
	return first
}

// keep holds back what an uneven clock dated after the end of the chunk.
func (m *mixer) keep() {
	for i, part := range m.parts {
		m.parts[i] = append(part[:0], part[m.heads[i]:]...)
		m.heads[i] = 0
	}
}

func (m *mixer) reading(s sample) home.Reading {
	t := time.UnixMicro(s.us).UTC()
	return home.Reading{
		Source: m.h.scales[s.scale].ID, Quantity: home.Load, Time: t, Value: s.kg,
		Arrived: t.Add(latency), Clock: home.ByDevice,
	}
}
