// Package app wires the rooms of the program into one that runs: it reads the
// settings, opens the store, starts the stages in order and stops them in the
// reverse order, and says how well they are.
//
// It guarantees that settings which cannot work are refused before anything is
// opened, with the line and the mend; and that Stop is safe to call at any moment
// and leaves no goroutine behind.
package app
