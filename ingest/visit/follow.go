package visit

import (
	"math"

	"weighbeam/home"
)

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
	s.Mode, s.Start, s.Exit, s.Crept = busy, p.T, 0, 0
	if s.HasZero {
		s.Crept = s.Base.Level - s.Zero
	}
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
