package home

import (
	"errors"
	"fmt"
)

// ErrNotFound is returned, wrapped, where what was asked for by name is not there.
var ErrNotFound = errors.New("not found")

// ErrChanged is returned, wrapped, where what was to be changed is not any more as it
// was when somebody looked at it.
var ErrChanged = errors.New("somebody changed it meanwhile")

// ErrUnfit is returned, wrapped, where the store will never take what it was given,
// however often it is tried. Any other failure to store may pass.
var ErrUnfit = errors.New("it does not fit into the store")

// Error is an error with a hint: what a person can do about it. Return it where
// the cause lies; it is logged or shown once, at the edge.
type Error struct {
	Op   string // what was being done, as "open store" or "read settings"
	Hint string // what to do about it, a full sentence
	Err  error
}

func (e *Error) Error() string {
	if e.Op == "" {
		return e.Err.Error()
	}
	return e.Op + ": " + e.Err.Error()
}

func (e *Error) Unwrap() error { return e.Err }

// Hint returns the hint of the innermost [Error] in err's tree that has one, or "".
func Hint(err error) string {
	hint := ""
	for e := (*Error)(nil); errors.As(err, &e); err = e.Err {
		if e.Hint != "" {
			hint = e.Hint
		}
	}
	return hint
}

// Hinted wraps a new error, formatted as by fmt.Errorf, with a hint.
func Hinted(op, hint, format string, args ...any) error {
	return &Error{Op: op, Hint: hint, Err: fmt.Errorf(format, args...)}
}
