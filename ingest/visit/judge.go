package visit

import (
	"math"
	"time"

	"weighbeam/home"
)

// episode is one departure from the baseline and back, ready to be judged.
type episode struct {
	of      []frame // its frames, the rest after it left out
	after   bool    // the load after it was seen
	net     float64 // g, load after minus load before
	netSD   float64
	baseSD  float64 // g, of the load before
	end     int64   // ns
	outcome []outcome
}

// outcome is one event found in an episode.
type outcome struct {
	event    home.Event
	from, to int64 // ns
	mass, sd float64
	left     float64
	leftSD   float64
	hasLeft  bool
	quality  float64
	why      []string
}

// judge names what the open episode was, emits it, and takes the new baseline.
func (t *Tracker) judge(after bool, emit func(home.Visit)) {
	s := &t.s
	e := episode{of: s.Stay.before(s.Exit), after: after, baseSD: s.Base.sd(), end: s.Exit}
	if after {
		e.net = s.After.level(s.Exit) - s.Base.level(s.Exit)
		r := s.Device.rounding()
		e.netSD = math.Sqrt(s.After.P00 + s.Base.P00 + r*r)
	}
	switch {
	case bowl(t.kind):
		t.nameBowl(&e)
	case len(e.of) == 0:
		t.nameStep(&e)
	default:
		t.name(&e)
		e.gather()
	}
	for _, o := range e.outcome {
		t.emit(o, emit)
		s.Crept = 0 // told once
	}
	if after {
		s.Base = s.After
	}
	s.Zero, s.HasZero = s.Base.Level, after
	s.Mode = idle
	s.Stay.clear()
	s.Faults = faults{}
}

// learnFrom is how long a stay must be for its mass to be one that is usual.
const learnFrom = 10 * time.Second

// emit turns an outcome into a visit, and holds back one that could not be.
func (t *Tracker) emit(o outcome, emit func(home.Visit)) {
	v := home.Visit{
		Start: instant(o.from), End: instant(max(o.from, o.to)), Event: o.event,
		MassKg: o.mass / 1000, SDKg: o.sd / 1000,
		LeftG: o.left, LeftSDG: o.leftSD, HasLeft: o.hasLeft,
		Quality: o.quality, Reasons: o.why, CreptG: t.s.Crept,
	}
	if v.Event == home.CatVisit {
		if home.Weight.Gate(v.MassKg) != nil {
			v.Event, v.MassKg, v.SDKg, v.Quality = home.Knocked, 0, 0, 0
			v.Reasons = append(v.Reasons, "no cat weighs that")
		} else if v.Quality >= 0.4 && v.End.Sub(v.Start) >= learnFrom {
			t.s.Usual.add(o.mass)
		}
	}
	emit(v)
}

func instant(ns int64) time.Time {
	return time.Unix(0, ns).UTC().Truncate(home.TimeStep)
}
