package simulator

import (
	"math"
	"time"

	"weighbeam/home"
)

// count is a person who counts breaths: 30 s beside a sleeping cat, or 15 s in a
// clinic, where cats breathe much faster (Dijkstra et al. 2018: median 64).
func (l *life) count(h happening) {
	a, d := l.cats[h.who], h.d
	rate, state, window := a.perMinute(h.Start, d), home.Asleep, 30*time.Second
	switch {
	case h.Source == home.Clinic:
		rate, state, window = clamp(d.lognormal(62, 0.3), 30, 150), home.AtClinic, 15*time.Second
	case d.chance(0.08):
		rate, state = rate+d.between(3, 10), home.Resting
	case d.chance(0.01) && l.h.opt.Faults.Has(Outlier): // dreaming, or purring
		rate, h.Faults = rate*d.between(1.5, 2.2), Outlier
	}
	// Breaths are even in time, so a window holds the whole part or one more, by where it starts.
	n := math.Floor(rate*window.Minutes() + d.Float64())
	if d.chance(0.1) {
		n += float64(1 - 2*d.IntN(2))
	}
	h.Cat, h.PerMinute = a.Cat.ID, round(rate, 0.001)
	h.End = h.Start.Add(window)
	h.hand = l.report(h, home.Breaths, n)
	h.hand.Window, h.hand.State = window, state
	l.record(h)
}

// weigh is a person who stands on a bathroom scale with and without the cat
// (off by up to 120 g and the bias of the scale), or a clinic (off by 20 g).
func (l *life) weigh(h happening) {
	a, d := l.cats[h.who], h.d
	h.MassKg, h.LevelKg = round(a.mass(h.Start), 1e-5), round(a.level(h.Start), 1e-5)
	kg := round(h.MassKg+l.keeper.biasKg+d.between(-0.12, 0.12), 0.05)
	sd := 0.08
	if h.Source == home.Clinic {
		kg, sd = round(h.MassKg+d.normal(-0.01, 0.02), 0.01), 0.02
	}
	h.Cat = a.Cat.ID
	h.hand = l.report(h, home.Weight, kg)
	h.hand.SD = sd
	l.record(h)
}

// report is a reading that a person wrote down: it reaches the house minutes later.
func (l *life) report(h happening, q home.Quantity, v float64) *home.Reading {
	late := seconds(h.d.between(40, 400))
	if h.Source == home.Clinic {
		late = hours(h.d.between(1, 8))
	}
	return &home.Reading{
		Source: h.Source, Quantity: q, Time: h.Start.UTC(), Value: v, Cat: h.Cat,
		Arrived: h.Start.Add(late).UTC().Truncate(time.Second), Clock: home.ByHand,
	}
}
