// Package visit turns the raw load of one scale, the whole box with its litter
// or bowl included, into visits: who knows whose, but from when to when, how
// heavy, and what was left behind.
//
// A [Tracker] is pure and streaming. It takes load samples in time order, at any
// rate or only on change with heartbeats, and guarantees:
//
//   - it never panics and never emits a visit whose times are out of order or
//     whose mass a scale in a house cannot have meant, whatever it is fed;
//   - its memory is constant and it allocates nothing for a sample;
//   - stopping it with [Tracker.Snapshot] and going on from [Tracker.Restore]
//     at any sample changes nothing, and neither does how often it is ticked;
//   - what it cannot weigh it does not weigh: a look with the front paws, two
//     cats at once and a person's hands come out as events without a mass.
//
// The reasons that a visit may name: "moving" (it never stood still), "brief",
// "unsteady" (off its mass for most of the stay), "stuck" and "saturated" (the
// cell), "dropout", "spikes", "uncertain" (worse than a hundredth of the mass),
// "lid", "hands" (a person leaned in), "unseen" (the load changed while nothing
// was sent). A quality is the least of what its reasons allow.
//
// Inside the package a load is in grams and a time in nanoseconds since 1970;
// home.Visit has kilograms at the edge.
//
// The mass of a visit is what stepped on: the load of the still moments minus
// the load before. What a cat leaves behind it carried in, so the total does not
// change while it stays, and the load after minus the load before is what was
// left. Meals, drinks and scoops have that same difference, below zero.
package visit
