package simulator

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Device is how a scale samples, what it sends and how its plate answers.
type Device struct {
	Name    string
	Hz      float64       // samples a second while something moves
	Idle    time.Duration // between messages while nothing does
	StepKg  float64       // resolution of what is sent
	BandKg  float64       // above zero: sent only when it has changed by this much, or after Idle
	NoiseKg float64       // standard deviation of one sample
	SwingHz float64       // natural frequency of the plate with its load
	Damping float64       // of the plate, 1 is critical
	MaxKg   float64       // capacity
}

// FiveHertz sends 5 samples a second while something moves and a heartbeat each
// minute else.
func FiveHertz() Device {
	return Device{Name: "5hz", Hz: 5, Idle: time.Minute, StepKg: 0.001, NoiseKg: 0.003, SwingHz: 9, Damping: 0.35, MaxKg: 40}
}

// OneHertz sends each second, always, in steps of 10 g.
func OneHertz() Device {
	return Device{Name: "1hz-10g", Hz: 1, Idle: time.Second, StepKg: 0.01, NoiseKg: 0.004, SwingHz: 6, Damping: 0.6, MaxKg: 50}
}

// OnChange samples ten times a second but sends only a change of 25 g, and a
// heartbeat every five minutes.
func OnChange() Device {
	return Device{Name: "on-change", Hz: 10, Idle: 5 * time.Minute, StepKg: 0.001, BandKg: 0.025, NoiseKg: 0.004, SwingHz: 8, Damping: 0.4, MaxKg: 40}
}

// EightyHertz sends 80 samples a second while something moves, with the noise
// that a fast converter has, and a heartbeat every ten seconds else.
func EightyHertz() Device {
	return Device{Name: "80hz", Hz: 80, Idle: 10 * time.Second, StepKg: 0.001, NoiseKg: 0.008, SwingHz: 11, Damping: 0.25, MaxKg: 40}
}

// Kitchen is a small scale under a bowl: five samples a second while something
// moves, in steps of a tenth of a gram, and a heartbeat each minute else.
func Kitchen() Device {
	return Device{Name: "kitchen", Hz: 5, Idle: time.Minute, StepKg: 0.0001, NoiseKg: 0.0003, SwingHz: 13, Damping: 0.3, MaxKg: 3}
}

// Devices lists the device models for litter boxes.
func Devices() []Device { return []Device{FiveHertz(), OneHertz(), OnChange(), EightyHertz()} }

// ParseDevices reads the names of device models with commas; none is an empty list.
func ParseDevices(s string) ([]Device, error) {
	var list []Device
	for _, name := range strings.FieldsFunc(s, func(r rune) bool { return r == ',' || r == ' ' }) {
		i := slices.IndexFunc(Devices(), func(d Device) bool { return d.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("unknown device %q: use 5hz, 1hz-10g, on-change or 80hz", name)
		}
		list = append(list, Devices()[i])
	}
	return list, nil
}

// spoil is d with the faults that are part of a device.
func (d Device) spoil(f Fault, dice dice) Device {
	steps := []float64{0.005, 0.01, 0.02, 0.05}
	if step := steps[dice.IntN(len(steps))]; f.Has(Quantised) && step > d.StepKg {
		d.StepKg = step
	}
	if f.Has(DeadBand) && d.BandKg == 0 {
		d.BandKg, d.Idle = 0.025, 5*time.Minute
	}
	if f.Has(Saturated) {
		d.MaxKg = dice.between(10.5, 12.5) // box and litter fit, a heavy cat does not
	}
	return d
}
