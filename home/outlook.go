package home

import "time"

// Outlook is what is known of a cat at one time: its figures with how sure each
// is, and, in sentences, what is still being learned or not known.
type Outlook struct {
	Cat  string
	AsOf time.Time

	Weight  Figure    // kg now
	Month   Change    // of weight over the last 28 days
	Year    Change    // of weight over the last 365 days
	Asleep  Figure    // usual sleeping breaths a minute
	LastKg  time.Time // last weighing; zero for never
	Learned []string  // what is known well enough to judge
	Unknown []string  // what is not known yet, and what it would take
}

// Figure is a value with its 90 % interval. Known is false where there is none.
type Figure struct {
	Known         bool
	Value, Lo, Hi float64
}

// Change is a change in percent with its 90 % interval.
type Change struct {
	Known       bool
	Pct, Lo, Hi float64
}

// TrendPoint is the level of a series at one time with its 90 % band.
type TrendPoint struct {
	Time          time.Time
	Value, Lo, Hi float64
}

// SourceStatus is when a source was last heard and how much it has said.
type SourceStatus struct {
	Source  string
	Last    time.Time // time of its newest reading
	Arrived time.Time // when its newest reading reached the house
	Stored  time.Time // when what came of it last was stored; zero where that was not kept
	Count   int64

	Battery   float64   // charge left in it, %, as it last said
	BatteryAt time.Time // when; zero where it never did
}
