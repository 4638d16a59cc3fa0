package store

import (
	"time"

	"weighbeam/home"
)

// quantityCodes are written into the file: never change one, only add.
var quantityCodes = map[home.Quantity]int64{
	home.Load: 1, home.Weight: 2, home.Breaths: 3, home.Heartbeats: 4, home.Temperature: 5,
	home.Intake: 6, home.Drunk: 7, home.Deposit: 8, home.Stay: 9, home.Tag: 10, home.Battery: 11,
}

// clockCodes are written into the file: never change one, only add.
var clockCodes = map[home.Clock]int64{home.ByDevice: 1, home.ByArrival: 2, home.ByHand: 3}

var (
	quantityOf = invert(quantityCodes)
	clockOf    = invert(clockCodes)
)

func invert[K, V comparable](m map[K]V) map[V]K {
	out := make(map[V]K, len(m))
	for k, v := range m {
		out[v] = k
	}
	return out
}

// micros is how a time is kept; the zero time is kept as NULL.
func micros(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UnixMicro()
}

func fromMicros(us *int64) time.Time {
	if us == nil {
		return time.Time{}
	}
	return time.UnixMicro(*us).UTC()
}

// orNull keeps a zero value as NULL, which takes one byte in a row.
func orNull[T comparable](v T) any {
	var zero T
	if v == zero {
		return nil
	}
	return v
}

// bound turns the end of a range into microseconds; the zero time is no bound.
func bound(t time.Time, open int64) int64 {
	if t.IsZero() {
		return open
	}
	return t.UnixMicro()
}
