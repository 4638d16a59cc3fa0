// Package carry takes a store's content out and in: readings as CSV, everything as
// JSON lines, and histories that other files or a time-series engine hold.
//
// It guarantees that what was exported and is imported gives the same store; that a
// row which can be no reading is told by its line, set aside, and stops none of the
// rest; and that an import which was broken off is simply done again.
package carry
