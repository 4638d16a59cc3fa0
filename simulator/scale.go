package simulator

import (
	"math"
	"slices"
	"time"
)

// scale is a device at work: it takes acts and gives samples. Time in
// microseconds since 1970; samples lie on a grid of whole periods.
type scale struct {
	dev      Device
	seed     uint64
	name     string
	plate    *plate
	drift    drift
	noise    dice // renewed each day, so that reading can start on any day
	nextDay  int64
	period   int64 // between samples
	fine     int   // steps of the plate to a sample
	idle     int64 // between messages at rest
	now      int64
	queue    []*act
	bodies   []*body
	awake    int64 // fine steps until then
	silences [][2]int64
	last     float64 // value last sent
	sent     int64   // when
	held     float64 // value of a stuck cell
	stuck    bool
	jitter   bool
}

// sample is one value that a scale sends.
type sample struct {
	us    int64
	kg    float64
	scale int
}

// lead and linger are how long before and after an act a device samples fast:
// it wakes on a change and sends the second before from its memory.
const (
	lead   = int64(time.Second / time.Microsecond)
	linger = 4 * lead
	dayUS  = 24 * 3600 * lead
)

func newScale(b *box, h *House, startUS int64) *scale {
	dev := b.device
	s := &scale{dev: dev, seed: h.opt.Seed, name: b.ID}
	s.period = int64(math.Round(1e6 / dev.Hz))
	s.fine = max(2, int(math.Ceil(100/dev.Hz)))
	s.idle = dev.Idle.Microseconds()
	s.plate = newPlate(dev, h.opt.Faults.Has(Creep), 1/dev.Hz/float64(s.fine), b.load(), b.dries)
	s.drift = newDrift(h.opt.Faults, newDice(h.opt.Seed, "drift "+b.ID, 0), b.cellPart())
	s.jitter = h.opt.Faults.Has(Jitter)
	s.now = startUS / s.period * s.period
	s.sent = s.now / s.idle * s.idle
	return s
}

// advance gives every sample up to a time, not including it.
func (s *scale) advance(until int64, out []sample, index int) []sample {
	for {
		next, moving := s.next()
		if next >= until {
			return out
		}
		if moving {
			s.move(next)
		} else {
			s.plate.rest(float64(next-s.now) / 1e6)
		}
		s.now = next
		if kg, ok := s.say(moving); ok {
			out = append(out, sample{us: s.stamp(), kg: kg, scale: index})
			s.last, s.sent = kg, s.now
		}
	}
}

// stamp is the time that goes with the sample. An uneven one is late by up to a
// third of a period and so never overtakes the next; it is a function of the
// time, to cost the noise no draw.
func (s *scale) stamp() int64 {
	if !s.jitter {
		return s.now
	}
	return s.now + int64(mix(uint64(s.now)^s.seed)%uint64(s.period/3))
}

// next is when the plate is looked at next, and whether something is on it.
func (s *scale) next() (us int64, moving bool) {
	if s.now < s.awake || len(s.bodies) > 0 {
		return s.now + s.period, true
	}
	step := s.idle
	if s.dev.BandKg > 0 {
		step = min(step, 10*lead) // at rest a change is slow: looking every ten seconds will do
	}
	us = (s.now/step + 1) * step
	if len(s.queue) > 0 {
		if wake := (s.queue[0].startUS - lead) / s.period * s.period; wake < us {
			us = max(wake, s.now+s.period)
			s.awake = s.queue[0].startUS + linger
		}
	}
	return us, false
}

// move steps the plate finely through one period.
func (s *scale) move(until int64) {
	p := s.plate
	for i := range s.fine {
		t := s.now + (until-s.now)*int64(i+1)/int64(s.fine)
		for len(s.queue) > 0 && s.queue[0].startUS <= t {
			s.bodies = append(s.bodies, newBody(s.queue[0], s.seed))
			s.queue = s.queue[1:]
		}
		press := 0.0
		for _, b := range s.bodies {
			if !b.done() {
				kg, gained := b.step(p.dt)
				press += kg
				p.static += gained
			}
		}
		p.step(p.static + press)
	}
	s.leave(until)
}

// leave drops the bodies whose act is over and stays awake a little longer.
func (s *scale) leave(now int64) {
	before := len(s.bodies)
	s.bodies = slices.DeleteFunc(s.bodies, (*body).done)
	if len(s.bodies) < before {
		s.awake = max(s.awake, now+linger)
	}
}
