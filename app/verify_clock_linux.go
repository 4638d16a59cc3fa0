package app

import "golang.org/x/sys/unix"

// clockKept reports whether the kernel's clock is kept right from outside; known is
// false where it does not say.
func clockKept() (kept, known bool) {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	return state != unix.TIME_ERROR, err == nil
}
