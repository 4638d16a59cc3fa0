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
		{"one more, in the same minute", 0, []home.RedFlag{home.Collapse, home.Straining}, home.Worsened},
		{"the same sight, in the same minute", 0, []home.RedFlag{home.Collapse}, ""},
		{"none, in the same minute", 0, nil, ""}, // whichever of the two came first
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

// What two people enter in the same minute is told of both, and stands alike in whichever
// order it comes.
func TestMonitor_Step_RedFlags_SameMinute(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	look := func(flags ...home.RedFlag) Observation {
		return Observation{Check: &home.HomeCheck{Cat: "plum", Time: noon, RedFlags: flags}}
	}
	for _, seen := range [][2]Observation{{look(home.Collapse), look(home.Straining)}, {look(home.Straining), look(home.Collapse)}} {
		m := New(home.Cat{ID: "plum"}, Options{})
		m.Step(seen[0])
		turned := m.Step(seen[1])
		if len(turned) != 1 || turned[0].Turn != home.Worsened || turned[0].Finding.Text != redFlagText([]home.RedFlag{home.Collapse, home.Straining}) {
			t.Errorf("%+v", turned)
		}
	}
}
