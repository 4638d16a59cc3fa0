// Package whose says which cat a visit was of, with a probability.
//
// It is pure: visits go in by time, named visits come out, and the same visits
// always give the same names. It guarantees four things. A cat that does not
// use a scale is never named on it by the program. Two cats whose weights cross
// never swap names in silence: while the visits allow more than one story, the
// stories are kept side by side, the visits that depend on them are named only
// if nearly all of the weight of the stories agrees, and when later visits
// decide, the earlier ones are renamed. What a person says about a visit is
// taken as it is. And what is held open is bounded: at most [HoldFor] back, and
// at most [HoldMost] visits.
//
// The model: each cat's weight is a level that drifts with a slope (see track);
// a visit weighs the level plus that cat's own scatter from food, drink and
// voids, learned as it goes, plus the scale's uncertainty, with heavy tails. A
// visit by somebody else may weigh anything. The stories are a trellis of
// Gaussian hypotheses, merged where they say the same (a generalised pseudo-Bayes
// filter; Blackman and Popoli, Design and Analysis of Modern Tracking Systems,
// 1999, chapters 6 and 7, from memory), and read backwards for the names.
//
// What it cannot do: cats of unknown weight are told from one another only by a
// person, a tag or a scale that one of them alone uses, and a cat of unknown
// weight is not looked for where a known one stands (within three standard
// deviations): say its weight once. A guest who weighs what a cat of the house
// weighs, and comes seldom, is taken for it.
package whose
