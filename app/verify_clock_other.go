//go:build !linux

package app

// clockKept is known on Linux only.
func clockKept() (kept, known bool) { return false, false }
