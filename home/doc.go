// Package home holds the words of the program: what a cat, a scale, a reading,
// a visit, a weighing, a home check, a finding and a notice are, and what makes
// each of them well formed.
//
// It guarantees three things. Every quantity has one unit inside the program
// (see [Quantity.Unit]) and is converted once, at the edge, by [Convert]. Every
// value that passed a Valid method can be stored and used without checking it
// again. And it imports nothing but the standard library, so every other
// package may import it.
package home
