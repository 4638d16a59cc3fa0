package app

import (
	"fmt"
	"strconv"
	"time"
)

// Wait is a length of time, as 90m, 2h or 3d.
type Wait struct{ time.Duration }

// UnmarshalText refuses what is no length of time.
func (w *Wait) UnmarshalText(b []byte) (err error) {
	text := string(b)
	if days, ok := cutDays(text); ok {
		w.Duration = time.Duration(days) * 24 * time.Hour
		return nil
	}
	if w.Duration, err = time.ParseDuration(text); err != nil || w.Duration <= 0 {
		return fmt.Errorf(`%q is no length of time: write it as "30m", "2h" or "3d"`, b)
	}
	return nil
}

// MarshalText writes what UnmarshalText reads.
func (w Wait) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// cutDays reads a whole number of days, as "3d".
func cutDays(text string) (int, bool) {
	if len(text) < 2 || text[len(text)-1] != 'd' {
		return 0, false
	}
	n, err := strconv.ParseUint(text[:len(text)-1], 10, 10)
	return int(n), err == nil && n > 0
}
