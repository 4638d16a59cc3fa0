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
// # How a change of weight is found
//
// weights.go holds the model that the weight signs share: a state-space model of
// level, correlated wander and a bias for each source, whose noise is learned
// from the cat's own days (stat.Spread, stat.Bank) starting from pooled values.
// On its innovations stat.Ramps keeps the likelihood ratio of a ramp for each
// onset of the last 480 days. falling.go, rising.go and kitten.go say when that
// is a finding, low.go compares the level with a reference, plan.go knows what a
// practice agreed. How often they are wrong and how quick they are is measured:
// testdata/weight_characteristics.txt, made again by
//
//	WEIGHBEAM_LONG=1 go test ./detect -run Weights_Characteristics -update-weights
//
// What they cannot know: one scale that drifts, a collar, a cat taken for
// another. The warnings of a finding say so.
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
