// Package stat holds the statistics of the program as pure functions on plain
// slices: slices in, results out, one method a file.
//
// It guarantees four things. No function panics on data, whatever its length or
// content. A value that is not finite is missing: it is left out, together with
// its partner where values come in pairs or carry weights. Where too little is
// left to compute a figure, the figure is NaN and a test's p is 1, so that
// nothing is ever concluded from nothing. And no argument is changed: a function
// that sorts, sorts a copy.
//
// Each method names the paper or handbook it comes from, and is tested against
// values published there or recomputed with an independent tool; the data stand
// in testdata, each file with its source. What gonum has is taken from gonum.
//
// The package knows nothing of cats: times are numbers, and units are the
// caller's.
package stat
