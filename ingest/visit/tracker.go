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
	silence  = 15 * time.Minute // without a sample: whatever is open is closed
	setBack  = 10 * time.Minute // a clock that goes back further was set
	longest  = 3 * time.Hour    // of an episode
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
	if y := at.Year(); y < 1970 || y > 2200 {
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
		t.close(emit) // a clock was set: what follows cannot be compared in time
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
// but how soon a visit is known.
func (t *Tracker) Tick(now time.Time, emit func(home.Visit)) {
	if y := now.Year(); y < 1970 || y > 2200 {
		return
	}
	t.expire(now.UnixNano(), emit)
}

func (t *Tracker) expire(ns int64, emit func(home.Visit)) {
	if last, ok := t.s.newest(); ok && ns-last >= int64(silence) {
		t.close(emit)
	}
}

// close ends whatever is open as if nothing more came for a while.
func (t *Tracker) close(emit func(home.Visit)) {
	s := &t.s
	if s.HasPend {
		t.release(int64(silence), emit)
		s.HasPend = false
	}
	switch s.Mode {
	case settling:
		t.judge(true, emit)
	case busy:
		s.Exit = s.Prev.T + 1
		t.judge(false, emit)
		s.Base.P00 += 1e4 // whatever happens next may have changed it
	}
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

// seek looks for the first baseline: a level that holds.
func (t *Tracker) seek(p sample, h float64) {
	s := &t.s
	s.Run.extend(p, h, t.gate())
	if d := s.Run.duration(); d >= t.how.Rest && (s.Run.N >= 3 || d >= 30) {
		s.Base.startAt(p.T, s.Run.mean(), t.variance(s.Run.N), t.how.Wander)
		s.Mode = idle
	}
}

// rest follows the empty scale until something departs from it.
func (t *Tracker) rest(p sample, h, dt float64) {
	s := &t.s
	if t.departs(&s.Base, p) {
		t.open(p, h)
		return
	}
	t.observe(&s.Base, p, dt, 0)
}

func (t *Tracker) open(p sample, h float64) {
	s := &t.s
	s.Base.predict(p.T)
	s.Mode, s.Start, s.Exit = busy, p.T, 0
	s.Faults, s.Peak = faults{}, 0
	s.Stay.clear()
	s.Run = run{}
	t.record(p, h)
}

// record adds p to the open episode and to the rest that may end it.
func (t *Tracker) record(p sample, h float64) {
	s := &t.s
	rel, held := p.G-s.Base.Level, math.Min(h, s.Device.Hold)
	s.Stay.add(p.T, p.G, held, max(2*t.gate(), 100, 0.1*rel))
	s.Peak = math.Max(s.Peak, rel)
	if rel > t.how.Near && s.Device.Band == 0 {
		h = held // silence is a dropout here, and says nothing of what lies there
	}
	s.Run.extend(p, h, t.tolerance(rel))
}

// stay follows an episode until the load rests again.
func (t *Tracker) stay(p sample, h, dt float64, emit func(home.Visit)) {
	s := &t.s
	if dt > 3*s.Device.Hold {
		s.Faults.Gaps++
		s.Faults.GapS += dt
	}
	t.record(p, h)
	rel := s.Run.mean() - s.Base.Level
	if s.Run.duration() >= t.enough(rel) {
		t.leave(p)
		return
	}
	if p.T-s.Start >= int64(longest) {
		t.leave(p)
		t.judge(true, emit)
	}
}

// leave takes the latest rest for the end of the episode.
func (t *Tracker) leave(p sample) {
	s := &t.s
	s.Mode, s.Exit, s.Rest = settling, s.Run.Start, s.Run.mean()
	s.After = s.Base
	s.After.step(p.T, s.Run.mean(), 1e6)
	n := math.Min(float64(s.Run.N), 1+s.Run.duration()/oneError)
	c := t.creep(p.T)
	s.After.observe(p.T, s.Run.mean(), t.variance(int(n))+c*c+t.moving(), oneError)
}

// settle learns the new baseline until it is known well enough to judge.
func (t *Tracker) settle(p sample, h, dt float64, emit func(home.Visit)) {
	s := &t.s
	since := seconds(p.T - s.Exit)
	if t.departs(&s.After, p) || math.Abs(p.G-s.Rest) >= 1.5*t.gate() {
		if since < t.how.Again {
			s.Mode = busy
			t.record(p, h)
			return
		}
		t.judge(true, emit)
		t.rest(p, h, dt)
		return
	}
	if t.moved(p) { // only the latest counts: the last it sends may hold for long
		s.After.step(p.T, p.G, t.variance(1)+t.moving())
	} else {
		t.observe(&s.After, p, dt, t.creep(p.T))
	}
	if since >= patience || since >= t.how.Settle && s.After.sd() <= surely {
		t.judge(true, emit)
	}
}

// observe gives an empty-scale sample to a baseline and learns the noise from it.
func (t *Tracker) observe(b *baseline, p sample, dt, creep float64) {
	d := &t.s.Device
	v := t.variance(1) + creep*creep
	if t.moved(p) {
		v += t.moving()
	}
	e, sd := b.observe(p.T, p.G, v, dt)
	if creep == 0 && dt < 600 && sd < 3*d.Noise && math.Abs(e) < 6*d.Noise {
		d.Noise = math.Max(math.Sqrt(0.99*d.Noise*d.Noise+0.01*e*e), leastNoise)
	}
}

// departs reports whether p is too far from b to be the empty scale. Where b is
// well known, a scale that sends on change says so itself.
func (t *Tracker) departs(b *baseline, p sample) bool {
	if t.moved(p) && b.sd() < t.s.Device.Band/3 {
		return true
	}
	return math.Abs(p.G-b.level(p.T)) >= t.gate()
}

// moved reports whether p was sent because the load moved, and not as a heartbeat.
func (t *Tracker) moved(p sample) bool {
	return t.s.Device.Band > 0 && math.Abs(p.G-t.s.Prev.G) > 0.95*t.s.Device.Band
}

// moving is the variance of a sample that was sent because the load moved, and
// perhaps still does, g^2.
func (t *Tracker) moving() float64 { return t.s.Device.Band * t.s.Device.Band / 3 }

// variance of the mean of n samples of the empty scale, g^2.
func (t *Tracker) variance(n int) float64 {
	d := &t.s.Device
	return d.Noise*d.Noise/float64(max(n, 1)) + d.rounding()*d.rounding()
}

// creep is how far the cell may still be from its rest after the load of the
// stay, g: OIML R 60 allows a cell of class C about 0.05 % in half an hour.
func (t *Tracker) creep(ns int64) float64 {
	s := &t.s
	c := 0.5e-3 * s.Peak * math.Exp(-seconds(ns-s.Exit)/90)
	if c < 0.3 {
		return 0
	}
	return c
}
