// Package replay runs a history through the code that runs live, faster.
//
// It guarantees that a replay finds what live running would have found and says when
// that would have been, never later than live; it is pure.
package replay
