package detect

import (
	"testing"
	"time"

	"weighbeam/home"
)

// A red flag that is seen while another stands is told: who heard of the first knows
// nothing of the second. What two people enter of one sight is told once.
func TestMonitor_Step_RedFlagSeenAnew(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		name  string
		after time.Duration
		flags []home.RedFlag
		want  home.Turn // "": nothing
	}{
		{"another", time.Minute, []home.RedFlag{home.Straining}, home.Worsened},
		{"one more", time.Minute, []home.RedFlag{home.Collapse, home.Straining}, home.Worsened},
		{"the same sight, by somebody else", 20 * time.Minute, []home.RedFlag{home.Collapse}, ""},
		{"the same the next day", 24 * time.Hour, []home.RedFlag{home.Collapse}, home.Worsened},
		{"none", time.Hour, nil, home.Closed},
	} {
		m := New(home.Cat{ID: "plum"}, Options{})
		look := func(at time.Time, flags ...home.RedFlag) []home.Transition {
			return m.Step(Observation{Check: &home.HomeCheck{Cat: "plum", Time: at, RedFlags: flags}})
		}
		first := look(noon, home.Collapse)
		if len(first) != 1 || first[0].Turn != home.Raised {
			t.Fatalf("the first: %+v", first)
		}
		at := noon.Add(row.after)
		turned := look(at, row.flags...)
		switch {
		case row.want == "" && len(turned) == 0:
		case len(turned) != 1 || turned[0].Turn != row.want || !turned[0].At.Equal(at) || turned[0].Finding.ID() != first[0].Finding.ID():
			t.Errorf("%s: %+v", row.name, turned)
		case row.want == home.Worsened && (turned[0].Finding.Text != redFlagText(row.flags) || !turned[0].Finding.Onset.Equal(at)):
			t.Errorf("%s: it says %+v", row.name, turned[0].Finding)
		}
	}
}
