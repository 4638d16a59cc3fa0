package visit

import (
	"math"

	"weighbeam/home"
)

const (
	lifted       = 1200.0 // g under the old baseline: more than a lid
	thrown       = 35.0   // g a digging cat may throw out, and no more
	carried      = 200.0  // g a cat may leave in one stay, and no more
	unseenStep   = 60.0   // g
	leastCore    = 1.5    // s of steady load, or nothing was weighed
	leastSamples = 3
	usually      = 12.0 // s; a shorter stay is a weighing only where more speaks for it
	briefly      = 8.0  // s; for one shorter than this, only a known mass or what it left
	heavier      = 1.4  // times the heaviest cat known, and
	twice        = 1.85 // times the lightest: two at once, or somebody new
)

// name finds the events in an episode of a box or a floor scale.
func (t *Tracker) name(e *episode) {
	all := t.stays(e)
	for _, st := range all {
		t.nameStay(e, st, len(all) == 1)
	}
}

// nameStep names a change that nobody saw happen: between two heartbeats, or in
// a dropout. A small one is a visit that was missed, and is only taken over.
func (t *Tracker) nameStep(e *episode) {
	o := outcome{from: t.s.Start, to: t.s.Start, left: e.net, leftSD: e.netSD, hasLeft: e.after, quality: 0.5, why: []string{"unseen"}}
	switch {
	case math.Abs(e.net) > 3000:
		o.event = home.Moved
	case e.net > unseenStep:
		o.event = home.ToppedUp
	case e.net < -unseenStep:
		o.event = home.Scooped
	default:
		return
	}
	e.add(o)
}

// gather makes one of the pushes that follow each other closely.
func (e *episode) gather() {
	out := e.outcome[:0]
	for _, o := range e.outcome {
		if n := len(out); n > 0 && o.idle() && out[n-1].idle() && o.from-out[n-1].to < int64(hop*1e9) {
			l := &out[n-1]
			l.to = o.to
			if o.event == home.Look {
				l.event = o.event
			}
			if len(l.why) == 0 {
				l.why = o.why
			}
			continue
		}
		out = append(out, o)
	}
	e.outcome = out
}

// idle reports whether an outcome changed and weighed nothing.
func (o *outcome) idle() bool { return o.event == home.Knocked || o.event == home.Look }

func (e *episode) add(o outcome) { e.outcome = append(e.outcome, o) }

// person names what only a person does to a box: lift it, take out, put in.
func (t *Tracker) person(e *episode, st stay) (home.Event, []string) {
	deep := 0.0
	for i := st.i; i < st.j; i++ {
		deep = math.Min(deep, e.of[i].mean()-t.s.Base.Level-st.base)
	}
	lift, left := t.under(e, st.i, st.j, st.base, math.Max(2*t.gate(), 100)) >= 3, st.next-st.base
	switch {
	case lift && deep < -lifted, st.known() && math.Abs(left) > 3000:
		return home.Moved, nil
	case st.known() && left < -math.Max(thrown, 4*math.Hypot(st.nextSD, st.baseSD)):
		return home.Scooped, nil
	case st.known() && left > carried:
		return home.ToppedUp, nil
	case lift:
		return home.Knocked, []string{"lid"}
	}
	return "", nil
}

// under is for how long frames i to j-1 lay more than g under base, s. Only a
// person can make a scale lighter than empty.
func (t *Tracker) under(e *episode, i, j int, base, g float64) float64 {
	s := 0.0
	for _, f := range e.of[i:j] {
		if f.mean()-t.s.Base.Level-base < -g {
			s += f.Hold
		}
	}
	return s
}

// top is the steady level of the last cat of some frames.
func (t *Tracker) top(fr []frame) level {
	parts := t.cast(fr, t.s.Base.Level)
	return parts[len(parts)-1].level
}

// floor is the least standard deviation of a frame that is believed.
func (t *Tracker) floor(g float64) float64 {
	return math.Hypot(t.s.Device.Noise, 0.002*g) + t.s.Device.rounding()
}
