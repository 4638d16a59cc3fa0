package weigh

import (
	"math"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// scale is one source with what is known of how true it is.
type scale struct {
	tracker  *visit.Tracker
	last     time.Time
	lag      lag
	coming   []home.Calibration // in force later, by From
	now      home.Calibration   // in force; the zero value is none
	all      []home.Calibration
	sessions []session
}

// plain is a scale that is taken at its word.
func plain(c home.Calibration) bool { return c.Gain == 0 }

// line is the correction of c: mass = offset + gain * load.
func line(c home.Calibration) (gain, offset float64) {
	if plain(c) {
		return 1, 0
	}
	return c.Gain, c.OffsetKg
}

func newScale(kind home.Kind, all []home.Calibration) *scale {
	return &scale{tracker: visit.New(kind), all: all, coming: home.InForce(all), sessions: sessionsOf(all)}
}

// resume goes on from a checkpoint, whatever was made since of the calibration
// that its state was made with.
func (s *scale) resume(c home.Checkpoint) error {
	if err := s.tracker.Restore(c.State); err != nil {
		return err
	}
	s.now = s.made(c.Gain, c.OffsetKg)
	s.coming = slices.DeleteFunc(s.coming, func(next home.Calibration) bool { return !next.From.After(c.At) })
	if holds := s.at(c.At); holds.Gain != s.now.Gain || holds.OffsetKg != s.now.OffsetKg {
		s.coming = append([]home.Calibration{holds}, s.coming...)
	}
	return nil
}

// made is the calibration with that line; without its uncertainty where it is not
// known any more.
func (s *scale) made(gain, offset float64) home.Calibration {
	for _, c := range s.all {
		if c.Gain == gain && c.OffsetKg == offset {
			return c
		}
	}
	return home.Calibration{Gain: gain, OffsetKg: offset}
}

// correct turns a load of the given time into a mass, kg. A calibration that
// begins while something is on the scale waits until it is empty again: a stay is
// weighed in one piece.
func (s *scale) correct(at time.Time, loadKg float64) float64 {
	for len(s.coming) > 0 && !s.coming[0].From.After(at) {
		if !s.turn(s.coming[0]) {
			break
		}
		s.coming = s.coming[1:]
	}
	gain, offset := line(s.now)
	return offset + gain*loadKg
}

// turn makes the tracker go on under c, if it can now.
func (s *scale) turn(c home.Calibration) bool {
	gain, offset := line(s.now)
	gain2, offset2 := line(c)
	ratio := gain2 / gain
	if !s.tracker.Rescale(ratio, offset2-ratio*offset) {
		return false
	}
	s.now = c
	return true
}

// at is the calibration that holds at a time, whatever the tracker is at.
func (s *scale) at(t time.Time) (c home.Calibration) {
	for _, next := range home.InForce(s.all) {
		if next.From.After(t) {
			break
		}
		c = next
	}
	return c
}

// stamp says in a visit with which calibration it was made, and lets its
// uncertainty bear on the mass and on what was left.
func stamp(v home.Visit, c home.Calibration) home.Visit {
	if plain(c) {
		return v
	}
	v.Gain = c.Gain
	if v.MassKg > 0 {
		v.SpanKg = c.SpanSD(v.MassKg)
		v.SDKg = math.Hypot(v.SDKg, v.SpanKg)
	}
	if v.HasLeft {
		v.LeftSDG = math.Hypot(v.LeftSDG, math.Abs(v.LeftG)/c.Gain*c.GainSD)
	}
	return v
}

// renew makes a visit, whose load is gone, as it would be made with c.
func renew(v home.Visit, c home.Calibration) home.Visit {
	was, _ := line(home.Calibration{Gain: v.Gain})
	ratio, _ := line(c)
	ratio /= was
	v.SDKg = math.Sqrt(math.Max(0, v.SDKg*v.SDKg-v.SpanKg*v.SpanKg)) * ratio
	v.MassKg *= ratio
	v.LeftG, v.LeftSDG, v.CreptG = v.LeftG*ratio, v.LeftSDG*ratio, v.CreptG*ratio
	v.Gain, v.SpanKg = 0, 0
	if plain(c) {
		return v
	}
	v.Gain = c.Gain
	if v.MassKg > 0 {
		v.SpanKg = c.SpanSD(v.MassKg)
		v.SDKg = math.Hypot(v.SDKg, v.SpanKg)
	}
	return v
}
