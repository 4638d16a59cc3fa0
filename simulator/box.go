package simulator

import (
	"time"

	"weighbeam/home"
)

// box is a scale with a litter box on it, and the ledger of what is in the box.
type box struct {
	home.Scale
	device Device
	tare   float64 // kg, the box with its lid
	lid    float64 // kg of that
	litter float64 // kg
	waste  float64 // kg left by cats and not yet scooped
	free   time.Time
	off    time.Time // silent until then
	filled time.Time // litter last changed
	topped time.Time
}

func newBox(s home.Scale, dev Device, seed uint64, start time.Time) *box {
	d := newDice(seed, "box "+s.ID, 0)
	b := &box{Scale: s, device: dev, tare: d.between(1.4, 2.4), lid: d.between(0.5, 0.9), litter: d.between(3.5, 5)}
	b.filled = start.Add(-time.Duration(d.between(1, 15) * 24 * float64(time.Hour)))
	b.topped = start
	return b
}

// load is what stands on the plate, kg.
func (b *box) load() float64 { return b.tare + b.litter + b.waste }
