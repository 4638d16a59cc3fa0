package visit

import (
	"math"
	"time"

	"weighbeam/home"
)

// Tracker follows one scale. Make it with [New]; it is not safe for concurrent use.
type Tracker struct {
	kind home.Kind
	how  manner
	s    state
	work work // scratch for judging, no state

	assumed int64 // ns, until when Tick took it that nothing would come
}

// state is all that a Tracker remembers, and what a snapshot holds.
type state struct {
	Mode   mode
	Device device
	Base   baseline // the empty scale before the stay
	After  baseline // the empty scale after it, while settling
	Run    run      // the latest rest
	Stay   frames   // the open episode
	Start  int64    // ns, of the open episode
	Rest   float64  // g, the level of that rest when it was taken for the end
	Exit   int64    // ns, when the rest after the open episode began
	Faults faults
	Usual  usual

	Zero    float64 // g, the empty scale when the last episode was judged
	HasZero bool
	Crept   float64 // g, how far the empty scale had moved from there when the open episode began

	Prev, Pend       sample // the last sample used, and the one that waits for its successor
	HasPrev, HasPend bool
	Peak             float64 // g over the old baseline, the most of the open episode
}

type mode int

const (
	seeking  mode = iota // no baseline yet
	idle                 // empty
	busy                 // something is on it, or was just taken off
	settling             // empty again, waiting to know the new baseline well
)

type sample struct {
	T int64   // ns
	G float64 // g
}

// faults counts what went wrong during the open episode.
type faults struct {
	Spikes, Refused, Gaps int
	GapS                  float64
}

const (
	silence  = 15 * time.Minute // without a sample: a stay that is over is judged
	setBack  = 10 * time.Minute // a clock that goes back further was set
	latest   = 7_289_654_400    // s; the end of the year 2200
	longest  = 3 * time.Hour    // of an episode, and of a silence within one
	surely   = 1.2              // g; how well the new baseline is known before a stay is judged
	patience = 660.0            // s; how long to wait for that
)

// New returns a tracker for a scale of that kind, with no baseline yet.
func New(kind home.Kind) *Tracker {
	return &Tracker{kind: kind, how: mannerOf(kind), s: state{Device: newDevice(), Stay: newFrames()}}
}

// Step takes in one load sample in kg, the whole box and litter included, and
// emits the visits that it completes. Samples come in time order; one that is
// not later than the last, or that no scale can mean, is passed over.
func (t *Tracker) Step(at time.Time, kg float64, emit func(home.Visit)) {
	if !datable(at) {
		t.s.Faults.Refused++
		return
	}
	t.step(at.UnixNano(), kg, emit)
}

func (t *Tracker) step(ns int64, kg float64, emit func(home.Visit)) {
	s := &t.s
	if !(kg >= -500 && kg <= 500) { // home.Load's gate, without its error; also refuses NaN
		s.Faults.Refused++
		return
	}
	if last, ok := s.newest(); ok && ns <= last {
		if last-ns <= int64(setBack) {
			return
		}
		t.expire(last+int64(longest), emit) // a clock was set: what follows cannot be compared in time
		s.Base.At, s.HasPrev, s.Run = ns, false, run{}
	}
	t.expire(ns, emit)
	next := sample{ns, kg * 1000}
	if s.HasPend {
		if s.spike(next) {
			s.Faults.Spikes++
			s.Pend = next
			return
		}
		t.release(ns-s.Pend.T, emit)
	}
	s.Pend, s.HasPend = next, true
}

// Tick closes what time alone closes. How often it is called changes nothing
// but how soon a visit is known, unless a sample comes that [Tracker.Contradicts] it.
func (t *Tracker) Tick(now time.Time, emit func(home.Visit)) {
	if datable(now) {
		t.assumed = max(t.assumed, t.expire(now.UnixNano(), emit))
	}
}

// Contradicts reports whether a sample of that time, newer than all before, falls into
// a silence in which Tick has closed something already: the scale was not silent, its
// samples were under way. The Tracker must then be made anew.
func (t *Tracker) Contradicts(at time.Time) bool {
	last, ok := t.s.newest()
	return ok && datable(at) && at.UnixNano() > last && at.UnixNano() < t.assumed
}

// Settling is when the stay began that is over but not judged yet, for the empty scale
// after it is not known well enough; ok is false where there is none.
func (t *Tracker) Settling() (since time.Time, ok bool) {
	return instant(t.s.Start), t.s.Mode == settling
}

// datable reports whether a reading may have that time (see home.Reading.Valid),
// within what nanoseconds since 1970 can say.
func datable(at time.Time) bool { return at.Unix() >= 0 && at.Unix() < latest }

// expire closes what a silence until ns closes: first the sample that waits for
// its successor, with it a stay that is over, and much later one that is not, for
// a scale with slow heartbeats may yet tell how it went on. It returns how long the
// silence must have lasted for that to be right, 0 where there was nothing to close.
func (t *Tracker) expire(ns int64, emit func(home.Visit)) (until int64) {
	s := &t.s
	last, ok := s.newest()
	if !ok || ns-last < int64(silence) {
		return 0
	}
	if s.HasPend {
		t.release(int64(silence), emit)
		s.HasPend = false
		until = last + int64(silence)
	}
	switch {
	case s.Mode == settling:
		t.judge(true, emit)
		until = last + int64(silence)
	case s.Mode == busy && ns-last >= int64(longest):
		s.Exit = last + 1
		t.judge(false, emit)
		s.Base.P00 += 1e4 // whatever happened may have changed it
		until = last + int64(longest)
	}
	return until
}

func (s *state) newest() (int64, bool) {
	if s.HasPend {
		return s.Pend.T, true
	}
	return s.Prev.T, s.HasPrev
}

// spike reports whether the waiting sample is a lone excursion between the last
// one and next: electrical, for nothing with a mass is that quick.
func (s *state) spike(next sample) bool {
	if !s.HasPrev || s.Device.Band > 0 && next.T-s.Pend.T > int64(1200*time.Millisecond) {
		return false
	}
	up, down := s.Pend.G-s.Prev.G, s.Pend.G-next.G
	if up*down <= 0 {
		return false
	}
	low := math.Min(math.Abs(up), math.Abs(down))
	return low > max(60, 8*s.Device.Noise, 0.15*math.Abs(s.Prev.G-s.Base.Level)) && math.Abs(next.G-s.Prev.G) < 0.2*low
}

// release uses the waiting sample, which stands for the load for hold ns.
func (t *Tracker) release(hold int64, emit func(home.Visit)) {
	s := &t.s
	p, dt, h := s.Pend, 1e3, seconds(hold)
	if s.HasPrev {
		dt = seconds(p.T - s.Prev.T)
		s.Device.learn(p.G-s.Prev.G, dt)
	}
	switch s.Mode {
	case seeking:
		t.seek(p, h)
	case idle:
		t.rest(p, h, dt)
	case busy:
		t.stay(p, h, dt, emit)
	case settling:
		t.settle(p, h, dt, emit)
	}
	s.Prev, s.HasPrev = p, true
}
