package simulator

import "math"

const gravity = 9.80665 // m/s², the standard value (CGPM 1901)

// body is an act while it goes on: what presses on a plate, moment by moment.
type body struct {
	*act
	d       dice
	at      int     // index of the bout
	into    float64 // s into the bout
	since   float64 // s into the act
	from    float64 // share at the start of the bout
	gone    float64 // kg passed on to the box
	re, im  float64 // the movement, a random phasor of unit variance
	turn    turn    // how it moves in the current bout
	carried float64 // share of the current bout's leave and put already passed on
}

func newBody(a *act, seed uint64) *body {
	b := &body{act: a, d: newDice(seed, "sway", a.seed)}
	b.re, b.im = b.d.NormFloat64(), b.d.NormFloat64()
	return b
}

// done reports whether the act is over.
func (b *body) done() bool { return b.at >= len(b.bouts) }

// step moves time on by dt seconds. It returns the force on the plate, in kg of
// dead weight that would press as hard, and the kg that the box gained.
func (b *body) step(dt float64) (press, gained float64) {
	now := &b.bouts[b.at]
	b.into += dt
	b.since += dt
	part := 1.0
	if now.last > 0 && b.into < now.last {
		part = b.into / now.last
	}
	share := b.from + (now.share-b.from)*smooth(part)
	gained = (now.leave + now.put) * (part - b.carried)
	b.gone += now.leave * (part - b.carried)
	b.carried = part
	accel := now.push
	if now.effort > 0 {
		if b.turn.hz != now.hz {
			b.turn = newTurn(now.hz, dt)
		}
		accel += now.effort * b.sway()
	}
	press = (b.massKg - b.gone) * share * (1 + accel/gravity)
	if part == 1 {
		b.into -= now.last
		b.from, b.carried = now.share, 0
		b.at++
	}
	return press, gained
}

// turn is one step of a phasor that turns at hz and forgets itself within about
// two turns.
type turn struct{ hz, cos, sin, kick float64 }

func newTurn(hz, dt float64) turn {
	sin, cos := math.Sincos(2 * math.Pi * hz * dt)
	keep := 1 - 0.5*hz*dt
	return turn{hz, keep * cos, keep * sin, math.Sqrt(1 - keep*keep)}
}

// sway turns the phasor by one step: a narrow-band Gaussian acceleration, as of a
// body moved to and fro, whose mean over a stay is zero as the mean of every such
// acceleration must be.
func (b *body) sway() float64 {
	re, im := b.turn.cos*b.re-b.turn.sin*b.im, b.turn.sin*b.re+b.turn.cos*b.im
	b.re, b.im = re+b.turn.kick*b.d.NormFloat64(), im+b.turn.kick*b.d.NormFloat64()
	return b.re
}

// smooth goes from 0 to 1 with no jump in speed at either end.
func smooth(x float64) float64 { return x * x * (3 - 2*x) }
