package home

import "time"

// ClockHour is what the readings that arrived from one source within one hour say of
// its clock.
type ClockHour struct {
	Hour    time.Time     // when it began, UTC, by the clock of the house
	Behind  time.Duration // arrival minus what the device said, the least; negative where the device runs ahead
	Dated   bool          // readings were dated by the device, so Behind counts
	Refused bool          // the device said times that cannot be, so its readings were dated by arrival
}
