// Package detect finds what changed in one cat, from the cat's history alone.
//
// It guarantees four things. It is pure: time is an input, nothing is read or
// started, and the same observations and ticks give the same transitions, so a
// [Monitor] is never stored, only made again from the history. It raises a
// finding only where the change is both sure (a stated budget of false findings
// a cat-year) and big enough to matter. Too few data give no finding, and
// [Monitor.Outlook] says what is still missing. A gap keeps the last state:
// silence never closes a finding, and is itself one (not-seen).
//
// # How a sign is added
//
// A sign is one file with one type that has the methods of the unexported
// interface sign, and one line in the slice of [New]:
//
//	kind()                       the home.Sign it speaks for
//	step(o Observation) verdict  called for each observation, in time order
//	tick(now) verdict            called at each full hour, UTC
//	outlook(now, *home.Outlook)  adds figures and sentences of its own
//
// A verdict is one of three: holds (the zero value: nothing new is known, the
// incident stays as it is), found (with the finding's figures, urgency and text)
// or cleared (with the reason, a full sentence). The sign itself decides with
// hysteresis when it is clear; it is asked again and again and may answer the
// same. It leaves Cat, Sign, Raised, Updated and Closed of the finding empty:
// the incident of incident.go fills them, turns verdicts into transitions
// (raised, worsened, eased, updated, closed) and drops updates that say nothing
// new. The sentences of every sign are in words.go.
package detect
