package visit_test

import (
	"math"
	"math/rand/v2"
)

// cell is a load cell and the way its device sends: what it adds to the load.
type cell struct {
	name    string
	hz      float64
	round   float64 // g
	band    float64 // g; 0: sends all it samples while occupied
	beat    float64 // s between heartbeats
	tail    float64 // s it goes on sending after the load is back
	noise   float64 // g, one sample
	thermal float64 // g, of a day's swing
	creep   float64 // share of the load that creeps in
	spikes  float64 // chance a sample is one
	gaps    float64 // chance that a visit has a dropout
	always  bool    // sends when idle too
	wake    float64 // g that wake it up

	r            *rand.Rand
	phase, crept float64
	last, sentAt float64
	sent, odd    bool
	busyUntil    float64
	send         func(at, g float64)
}

// read is one sample of load g at time at, dt after the last.
func (c *cell) read(at, g, dt float64) float64 {
	const tau = 110.0
	c.crept += (c.creep*g - c.crept) * (1 - math.Exp(-dt/tau))
	day := at / 86400 * 2 * math.Pi
	v := g + c.crept + c.thermal*(math.Sin(day+c.phase)+0.3*math.Sin(2*day+2*c.phase)) + c.noise*c.r.NormFloat64()
	if c.r.Float64() < c.spikes {
		v += (c.r.Float64() - 0.5) * 6000
	}
	if c.round > 0 {
		v = math.Round(v/c.round) * c.round
	}
	return v
}

// offer hands one sample to the device, which sends it or not. occupied is what
// a device that wakes up on a load goes by.
func (c *cell) offer(at, v float64, occupied bool) {
	due := !c.sent || at-c.sentAt >= c.beat-1e-9
	if occupied {
		c.busyUntil = at + c.tail
	}
	switch {
	case c.band > 0:
		due = due || math.Abs(v-c.last) > c.band
	default:
		due = due || c.always || at <= c.busyUntil
	}
	if due {
		c.last, c.sentAt, c.sent = v, at, true
		c.send(at, v)
	}
}

// run plays the events, in time order, on a box of that weight until the end.
func (c *cell) run(events []force, box, end float64) {
	rest, now := box, 0.0
	c.phase = 2 * math.Pi * c.r.Float64()
	for _, e := range events {
		c.idle(now, e.at, rest)
		now = c.play(e, rest)
		rest += e.net
	}
	c.idle(now, end, rest)
}

// idle passes the time with nothing on the box.
func (c *cell) idle(from, to, rest float64) {
	step := 1 / c.hz
	at := from
	for at < to {
		dt := step
		if !c.always && at > c.busyUntil+1 && at > from+20 && !c.odd {
			dt = math.Max(step, math.Min(c.beat, c.sentAt+c.beat-at)) // nothing is sent before the next beat
		}
		at += dt
		if at >= to {
			return
		}
		v := c.read(at, rest, dt)
		c.odd = math.Abs(v-rest) > 500 // a spike does not stay: the next sample is sent as well
		c.offer(at, v, false)
	}
}

// play samples one event, with the device's dropouts.
func (c *cell) play(e force, rest float64) float64 {
	n := int(float64(len(e.load)) * tick * c.hz)
	gapFrom, gapTo := -1.0, -1.0
	if c.r.Float64() < c.gaps {
		gapFrom = c.r.Float64() * float64(n) / c.hz
		gapTo = gapFrom + 2 + 12*c.r.Float64()
	}
	at := e.at
	for k := range n {
		s := float64(k) / c.hz
		at = e.at + s
		g := e.load[min(int(s/tick), len(e.load)-1)]
		v := c.read(at, rest+g, 1/c.hz)
		if s >= gapFrom && s < gapTo {
			continue
		}
		c.offer(at, v, math.Abs(g) > c.wake)
	}
	return at
}
