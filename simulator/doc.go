// Package simulator makes a household of cats from a seed: what its scales and
// people would have sent, and, beside it, the truth of what happened.
//
// It guarantees three things. The same options give the same bytes, whenever
// and from wherever the data are read: time is an input, every random draw comes
// from a stream named by what it is for, and values are rounded as a device
// would round them (on another kind of processor, whose sums differ in the last
// bit, a rounded value may differ once in a very long while). Whatever is read is made as it is read, so a year of raw
// samples needs no more memory than a minute. And the arithmetic is that of a
// body on a plate (force is mass times gravity plus the acceleration of its
// centre, seen through a plate that swings, creeps and drifts); nothing here
// knows how a visit or a trend is found.
//
// A house can be read in two ways. [House.History] is what a house has after
// months: one settled weight a visit, as devices with their own arithmetic send
// it, with what people counted and weighed. [House.Load] and [House.Live] are
// the raw signal, box and litter included. Both come from the same days, so the
// raw signal carries on where the history stops.
package simulator
