package stat

import "math"

// Day is what was observed at one time, the variance of its noise, and how the
// level wandered since the day before.
type Day struct {
	Time, Value, Variance float64
	Wander                Wander
}

// Smoothed is the level at one time given all days, earlier and later.
type Smoothed struct{ Level, Variance float64 }

// SmoothLevel returns the level at each of the days, in time order, given all of
// them: a fixed-interval smoother (Rauch, Tung and Striebel 1965) of a level with
// wander, from an unknown start. A day whose Value is NaN is missing.
func SmoothLevel(days []Day) []Smoothed {
	if len(days) == 0 {
		return nil
	}
	steps := filterLevel(days)
	out := make([]Smoothed, len(days))
	last := len(days) - 1
	next := steps[last].after
	out[last] = Smoothed{next.X[0], next.P[0][0]}
	for i := last - 1; i >= 0; i-- {
		next = smoothBack(&steps[i].after, &steps[i+1], &next)
		out[i] = Smoothed{next.X[0], next.P[0][0]}
	}
	return out
}

// smoothStep is a filter before and after one day, with the decay that led to it.
type smoothStep struct {
	before, after Kalman
	phi           Vec
}

func filterLevel(days []Day) []smoothStep {
	k := Kalman{}
	k.Append(0, 0)
	k.Diffuse(0)
	k.Append(0, days[0].Wander.SD*days[0].Wander.SD)
	h := Vec{1, 1}
	steps := make([]smoothStep, len(days))
	for i, d := range days {
		steps[i].phi = Vec{1, 1}
		if i > 0 {
			phi, qLevel, qWander := d.Wander.Step(d.Time - days[i-1].Time)
			steps[i].phi = Vec{1, phi}
			k.Scale(&steps[i].phi, &Vec{qLevel, qWander})
		}
		steps[i].before = k
		if !math.IsNaN(d.Value) {
			k.Observe(&h, d.Value, d.Variance)
		}
		steps[i].after = k
	}
	return steps
}

// smoothBack is one step back: x + J (next - predicted), with J = P A' (A P A' + Q)^-1.
func smoothBack(k *Kalman, step *smoothStep, next *Kalman) Kalman {
	if k.diffuse {
		return smoothToStart(k, step, next)
	}
	p := &step.before.P
	det := p[0][0]*p[1][1] - p[0][1]*p[1][0]
	a, b := p[1][1]/det, -p[0][1]/det
	d := p[0][0] / det
	if p[1][1] == 0 { // no wander: the level alone
		a, b, d = 1/p[0][0], 0, 0
	}
	var j [2][2]float64
	for r := range 2 {
		c0, c1 := k.P[r][0]*step.phi[0], k.P[r][1]*step.phi[1]
		j[r][0], j[r][1] = c0*a+c1*b, c0*b+c1*d
	}
	out := *k
	for r := range 2 {
		for m := range 2 {
			out.X[r] += j[r][m] * (next.X[m] - step.before.X[m])
		}
	}
	for r := range 2 {
		for c := range 2 {
			for m := range 2 {
				for n := range 2 {
					out.P[r][c] += j[r][m] * (next.P[m][n] - p[m][n]) * j[c][n]
				}
			}
		}
	}
	return out
}

// smoothToStart is smoothBack to a day before the first that was observed, at which
// the level was wholly unknown: the limit of J as its variance grows. What the level
// drifts in the step is then as unsure as before it.
func smoothToStart(k *Kalman, step *smoothStep, next *Kalman) Kalman {
	p := &step.before.P
	drift := p[0][0] - k.P[0][0]
	j := 0.0
	if p[1][1] > 0 {
		j = k.P[1][1] * step.phi[1] / p[1][1]
	}
	out := *k
	out.X[0] = next.X[0]
	out.X[1] += j * (next.X[1] - step.before.X[1])
	out.P[0][0] = next.P[0][0] + drift
	out.P[1][1] += j * j * (next.P[1][1] - p[1][1])
	out.P[0][1] = j * next.P[0][1]
	out.P[1][0] = out.P[0][1]
	return out
}
