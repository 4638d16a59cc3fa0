package notify

import (
	"fmt"
	"testing"
	"time"

	"weighbeam/home"
)

// A snooze leaves each channel that is reminded at all one reminder at its end.
func TestPolicy_Snooze(t *testing.T) {
	f := example(home.WeightFalling, home.Book)
	r := home.Reaction{ID: "r", Finding: f.ID(), Kind: home.Snoozed, At: t0, Until: t0.Add(3 * day)}
	wait := func(id string, due time.Duration) home.Notice {
		return home.Notice{ID: id, Finding: f.ID(), Turn: home.Reminded, Urgency: home.Book, Channel: "ada", State: home.Waiting, Due: t0.Add(due)}
	}
	tried := wait("tried", day)
	tried.Attempts = 1
	for _, tt := range []struct {
		name    string
		c       Channel
		notices []home.Notice
		want    string
	}{
		{"none waits: a new one", Channel{}, nil, "new waiting at 72h0m0s; "},
		// What is under way is not called back.
		{"one is being tried", Channel{}, []home.Notice{tried}, "new waiting at 72h0m0s; "},
		{"the next is moved, later or earlier", Channel{}, []home.Notice{wait("late", 7*day)}, "late waiting at 72h0m0s; "},
		{"those that would fall together with it are withheld", Channel{}, []home.Notice{wait("b", 84*time.Hour), wait("a", day), wait("c", 85*time.Hour)},
			"a waiting at 72h0m0s; b withheld at 84h0m0s; "},
		// t0 is at 9 o'clock.
		{"it ends in the quiet hours", Channel{Quiet: Quiet{From: 8 * 60, To: 10 * 60, Zone: time.UTC}}, nil, "new waiting at 73h0m0s; "},
		{"told only if nobody reacts", Channel{After: time.Hour}, nil, ""},
		{"hears only what is more urgent", Channel{Least: home.Today}, nil, ""},
	} {
		tt.c.Name = "ada"
		got := ""
		for _, n := range policy(tt.c).Snooze(f, tt.notices, r) {
			if len(n.ID) > 20 {
				n.ID = "new"
			}
			got += fmt.Sprintf("%s %s at %s; ", n.ID, n.State, n.Due.Sub(t0))
		}
		if got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}
