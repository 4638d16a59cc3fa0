package home

import "time"

// LiveLoad is what a scale says now.
type LiveLoad struct {
	Kg     float64   // the newest load, as the scale sent it
	At     time.Time // when that was
	Rest   KnownLoad // the rest that the scale is at, of no known mass; without readings where it is at none
	Moving string    // why it is at no rest, a full sentence; "" at rest
}
