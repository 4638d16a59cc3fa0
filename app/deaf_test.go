package app

import (
	"testing"
	"time"
)

// People are told of a store that takes nothing after an hour, and not again at once.
func TestDeafWatch_Due(t *testing.T) {
	for _, row := range []struct {
		name  string
		why   string
		since time.Duration // ago
		next  time.Duration // from now; 0 for never told
		want  bool
	}{
		{"all is well", "", 5 * time.Hour, 0, false},
		{"a lock held for a while", "locked", 59 * time.Minute, 0, false},
		{"full for an hour", "full", time.Hour, 0, true},
		{"told a while ago", "full", 5 * time.Hour, 20 * time.Hour, false},
		{"told yesterday", "full", 25 * time.Hour, -time.Minute, true},
	} {
		d := deafWatch{}
		if row.next != 0 {
			d.next = noon.Add(row.next)
		}
		if got := d.due(row.why, noon.Add(-row.since), noon); got != row.want {
			t.Errorf("%s: %v", row.name, got)
		}
	}
}
