package simulator

import (
	"time"

	"weighbeam/home"
)

// box is a scale with what stands on it, a litter box or a bowl, and the ledger
// of what is in there.
type box struct {
	home.Scale
	device  Device
	tare    float64   // kg, the empty box with its lid, or the bowl
	lid     float64   // kg of that
	content float64   // kg of litter, food or water
	waste   float64   // kg left by cats and not yet scooped
	full    float64   // kg, how far a bowl is filled
	dries   float64   // kg a second that go off into the air
	dried   time.Time // until when that is booked
	free    time.Time
	off     time.Time // silent until then
	filled  time.Time // litter last changed
	topped  time.Time
}

func newBox(s home.Scale, dev Device, o Options, start time.Time) *box {
	d := newDice(o.Seed, "box "+s.ID, 0)
	b := &box{Scale: s, device: dev, topped: start, dried: start}
	wet := 0.0 // g an hour
	switch s.Kind {
	case home.LitterBox:
		b.tare, b.lid, b.content, wet = d.between(1.4, 2.4), d.between(0.5, 0.9), d.between(3.5, 5), 0.2
		b.filled = start.Add(-hours(24 * d.between(1, 15)))
	case home.Feeder:
		b.tare, b.full = d.between(0.2, 0.45), d.between(0.12, 0.2)
	case home.Water:
		b.tare, b.full, wet = d.between(0.3, 0.6), d.between(0.5, 0.9), d.between(0.6, 1.2)
	}
	b.content = max(b.content, b.full)
	if o.Faults.Has(Evaporation) {
		b.dries = wet / 1000 / 3600
	}
	return b
}

// load is what stands on the plate, kg.
func (b *box) load() float64 { return b.tare + b.content + b.waste }

// dry books what has gone off into the air until t.
func (b *box) dry(t time.Time) {
	if t.After(b.dried) {
		b.content -= b.dries * t.Sub(b.dried).Seconds()
		b.dried = t
	}
}

// cellPart is how large the cell is against one under a litter box.
func (b *box) cellPart() float64 {
	if b.Kind == home.LitterBox {
		return 1
	}
	return b.device.MaxKg / FiveHertz().MaxKg
}
