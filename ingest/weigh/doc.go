// Package weigh turns the readings of scales into visits that carry a cat's
// name: each scale's load goes through its own visit tracker, the visits of all
// scales go, in order, through one assigner.
//
// It guarantees that the visits depend only on the readings and their times, not
// on how they were batched on the way ([Weigher] is pure), and that stopping and
// starting changes nothing: a [Runner] makes its state anew from the store.
package weigh
