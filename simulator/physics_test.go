package simulator

import (
	"math"
	"testing"
)

// A damped spring under a step answers with the textbook curve
// 1 - e^(-ζωt)·(cos ω_d t + ζω/ω_d · sin ω_d t), whatever the size of the steps.
func TestPlate_Step_FollowsTheClosedForm(t *testing.T) {
	for _, dev := range Devices() {
		for _, dt := range []float64{0.0025, 0.01, 0.05} {
			p := newPlate(dev, false, dt, 2, 0)
			w, z := 2*math.Pi*dev.SwingHz, dev.Damping
			wd := w * math.Sqrt(1-z*z)
			for i := 1; i <= 100; i++ {
				p.step(6)
				at := float64(i) * dt
				want := 2 + 4*(1-math.Exp(-z*w*at)*(math.Cos(wd*at)+z*w/wd*math.Sin(wd*at)))
				if math.Abs(p.shows()-want) > 1e-9 {
					t.Fatalf("%s after %g s: %g, want %g", dev.Name, at, p.shows(), want)
				}
			}
		}
	}
}

// A cell that creeps starts two parts in a thousand short and is right after
// some minutes, with a memory of 40 s.
func TestPlate_Creep_IsAnExponential(t *testing.T) {
	p := newPlate(FiveHertz(), true, 0.01, 0, 0)
	for range 100 {
		p.step(5)
	}
	for s := 1; s <= 200; s++ {
		want := 5 - 5*creepPart*math.Exp(-float64(s)/creepTime)
		if s > 1 && math.Abs(p.shows()-want) > 1e-6 {
			t.Fatalf("after %d s: %.6f, want %.6f", s, p.shows(), want)
		}
		for range 100 {
			p.step(5)
		}
	}
}

// What a cat gives to the box it no longer carries: the sum stays what it was.
func TestBody_Leave_KeepsTheSum(t *testing.T) {
	b := newBody(&act{massKg: 4, seed: 1, bouts: []bout{{last: 0.5, share: 1}, {last: 10, share: 1, leave: 0.04}, {last: 2, share: 1}}}, 1)
	box := 0.0
	for !b.done() {
		press, gained := b.step(0.01)
		box += gained
		if b.at > 0 && !b.done() && math.Abs(press+box-4) > 1e-9 {
			t.Fatalf("at %.2f s cat and box press with %.6f kg", b.since, press+box)
		}
	}
	if math.Abs(box-0.04) > 1e-12 {
		t.Errorf("the box gained %g kg", box)
	}
}

// The force averaged over a long stay is the weight, however the cat moves:
// its centre neither rises nor sinks for ever.
func TestBody_Sway_AveragesToTheWeight(t *testing.T) {
	b := newBody(&act{massKg: 4, seed: 7, bouts: []bout{{share: 1}, {last: 3600, share: 1, effort: effortDig, hz: 3.5}}}, 1)
	sum, square, n := 0.0, 0.0, 0.0
	for !b.done() {
		press, _ := b.step(0.01)
		sum, square, n = sum+press, square+(press-4)*(press-4), n+1
	}
	if mean := sum / n; math.Abs(mean-4) > 0.005 {
		t.Errorf("an hour of digging weighs %.4f kg on average, not 4", mean)
	}
	// effortDig is a standard deviation of 1 m/s²: a tenth of the weight.
	if sd := math.Sqrt(square / n); math.Abs(sd-4*effortDig/gravity) > 0.02 {
		t.Errorf("the force spreads by %.3f kg, not %.3f", sd, 4*effortDig/gravity)
	}
}

// A jump throws the centre up: the impulse above the weight is that of the push.
func TestBody_Jump_HasItsImpulse(t *testing.T) {
	b := newBody(&act{massKg: 4, seed: 3, bouts: []bout{{share: 1}, {last: 0.2, share: 1, push: 6}, {}}}, 1)
	impulse := 0.0
	for !b.done() {
		press, _ := b.step(0.001)
		if b.since <= 0.2 {
			impulse += (press - 4) * gravity * 0.001
		}
	}
	if want := 4 * 6 * 0.2; math.Abs(impulse-want) > 0.05 { // kg·m/s²·s
		t.Errorf("impulse %.3f N·s, want %.3f", impulse, want)
	}
}

// Warmth moves the zero with the day and never further than it can.
func TestDrift_At_IsBoundedAndSmooth(t *testing.T) {
	r := newDrift(Thermal|ZeroDrift, newDice(1, "drift", 0), 1)
	const minute = int64(60e6)
	last := r.at(0)
	for us := int64(0); us < 60*dayUS; us += minute {
		now := r.at(us)
		if math.Abs(now) > 1.5*r.warmKg+1.4*r.slowKg || math.Abs(now-last) > 0.0005 {
			t.Fatalf("the zero is at %.4f kg, %.4f a minute before", now, last)
		}
		last = now
	}
	if still := newDrift(NoFault, newDice(1, "drift", 0), 1); still.at(12345678) != 0 {
		t.Errorf("a zero without faults is at %g kg", still.at(12345678))
	}
}
