package home

import "time"

// Matter is the kind of thing that a journal entry is about.
type Matter string

// What a journal entry can be about.
const (
	OfReading   Matter = "reading"
	OfVisit     Matter = "visit"
	OfCheck     Matter = "check"
	OfHousehold Matter = "household"
	OfNaming    Matter = "naming"  // by a person, of a visit
	OfFinding   Matter = "finding" // a turn of one: Source is its subject, From when it was raised, To when it turned
	OfCare      Matter = "care"

	OfCalibration Matter = "calibration" // of a source
)

// Entry is one line of the journal: a commit changed things of one kind for one
// source or cat, dated From to To.
type Entry struct {
	ID       int64
	Matter   Matter
	Source   string
	Cat      string // "" where the cat is not known
	Quantity Quantity
	From, To time.Time
	N        int
	Stored   time.Time // when it came in, by the clock of the house; zero where nobody said
}

// Cursor is how far one follower of the journal has come.
type Cursor struct {
	Name    string
	Journal int64     // the last entry dealt with
	Tick    time.Time // the last full hour dealt with; zero for none
}

// Decision is everything that one step of watching changes: it is committed
// whole or not at all.
type Decision struct {
	Cursor  Cursor
	Turns   []Transition
	Notices []Notice
}
