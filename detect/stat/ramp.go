package stat

import (
	"math"
	"slices"
)

// Ramps weighs, for each of a window of candidate onsets, the evidence that a
// linear trend of unknown slope was added to what a [Kalman] filter observes
// from that onset on. It is the window-limited generalised likelihood ratio of
// Willsky and Jones (1976) and Lai (1998), for a ramp, with every onset kept as a
// recursion, so that an observation costs the same however long the history.
//
// The filter is linear, so a ramp of slope b from onset T moves its innovation by
// b times a signature that depends on T and on the gains alone. Each candidate
// carries the signature of its effect on the state, the sum of signature times
// innovation over variance, and the information.
type Ramps struct {
	Window float64 // onsets older than this are dropped
	Dense  float64 // onsets younger than this are all kept
	Space  float64 // and older ones this far apart; four times that beyond 4 Dense
	onsets []onset
	begun  int
}

// thinEvery is how many onsets begin between two thinnings: each walks them all.
const thinEvery = 4

type onset struct {
	at    float64
	score float64 // sum of s v / F: derivative of the log-likelihood at slope 0
	info  float64 // sum of s^2 / F
	state Vec     // effect of a unit slope on the filter's state
}

// Clone returns a copy that goes its own way.
func (r *Ramps) Clone() Ramps {
	c := *r
	c.onsets = slices.Clone(r.onsets)
	return c
}

// Begin adds the candidate onset t, not before any other.
func (r *Ramps) Begin(t float64) {
	if r.begun%thinEvery == 0 {
		r.thin(t)
	}
	r.begun++
	r.onsets = append(r.onsets, onset{at: t})
}

// thin drops an onset where its two neighbours are near enough for its age.
func (r *Ramps) thin(t float64) {
	kept := r.onsets[:0]
	for i := range r.onsets {
		o := &r.onsets[i]
		if t-o.at > r.Window {
			continue
		}
		if n := len(kept); n > 0 && i+1 < len(r.onsets) && r.onsets[i+1].at-kept[n-1].at <= r.space(t-o.at) {
			continue
		}
		kept = append(kept, *o)
	}
	r.onsets = kept
}

func (r *Ramps) space(age float64) float64 {
	switch {
	case age <= r.Dense:
		return 0
	case age <= 4*r.Dense:
		return r.Space
	}
	return 4 * r.Space
}

// Forget drops every onset before t.
func (r *Ramps) Forget(t float64) {
	kept := r.onsets[:0]
	for i := range r.onsets {
		if r.onsets[i].at >= t {
			kept = append(kept, r.onsets[i])
		}
	}
	r.onsets = kept
}

// Scale goes with [Kalman.Scale], for n states.
func (r *Ramps) Scale(phi *Vec, n int) {
	for j := range n {
		if phi[j] == 1 {
			continue // most states only drift
		}
		for i := range r.onsets {
			r.onsets[i].state[j] *= phi[j]
		}
	}
}

// Observe goes with [Kalman.Observe] at time t, for n states.
func (r *Ramps) Observe(t float64, h *Vec, inn *Innovation, n int) {
	weight := 1 / inn.F // 0 for a diffuse innovation, which tells nothing
	seen, gain := h[:n], inn.Gain[:n]
	for i := range r.onsets {
		o := &r.onsets[i]
		state := o.state[:len(seen)]
		s := t - o.at
		for j, x := range state {
			s -= seen[j] * x
		}
		o.score += s * inn.V * weight
		o.info += s * s * weight
		for j, g := range gain[:len(state)] {
			state[j] += g * s
		}
	}
}

// Ramp is what is known of a trend that began at Onset.
type Ramp struct {
	Onset float64
	Slope float64 // maximum likelihood, per unit of time
	SD    float64 // of Slope
	LLR   float64 // log-likelihood ratio against no trend
}

func (o *onset) ramp() Ramp {
	return Ramp{Onset: o.at, Slope: o.score / o.info, SD: 1 / math.Sqrt(o.info), LLR: o.score * o.score / (2 * o.info)}
}

// Best returns the likeliest ramp whose slope lies between lo and hi, with the
// slope bound to those limits; ok is false where no onset speaks for one.
func (r *Ramps) Best(lo, hi float64) (best Ramp, ok bool) {
	for i := range r.onsets {
		o := &r.onsets[i]
		switch {
		case o.info <= 0:
			continue
		case o.score*lo <= 0 && o.score*hi <= 0:
			continue // it speaks for a slope of the other sign
		case o.score*o.score < nearly*2*o.info*best.LLR:
			continue // without any limits it would speak for less
		}
		slope := min(max(o.score/o.info, lo), hi)
		llr := slope*o.score - slope*slope*o.info/2
		if llr > best.LLR {
			best, ok = o.ramp(), true
			best.Slope, best.LLR = slope, llr
		}
	}
	return best, ok
}

// nearly leaves room for rounding.
const nearly = 1 - 1e-9

// LLR is the greatest log-likelihood ratio over the onsets for a ramp of the
// known slope b: a matched CUSUM for a drift.
func (r *Ramps) LLR(b float64) float64 {
	best := 0.0
	for i := range r.onsets {
		best = max(best, b*r.onsets[i].score-b*b*r.onsets[i].info/2)
	}
	return best
}

// Len is how many onsets are kept.
func (r *Ramps) Len() int { return len(r.onsets) }
