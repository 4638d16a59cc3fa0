package watch

import (
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// A red flag waits neither for what makes weighings, whatever time that has come to, nor
// for the time that the clock of a phone showed. It is told once, and over with the next
// home check that sees none.
func TestHouse_Heed_RedFlag(t *testing.T) {
	now := start.Add(10 * time.Hour)
	look := func(at time.Time, flags ...home.RedFlag) detect.Observation {
		return detect.Observation{Check: &home.HomeCheck{ID: at.String(), Cat: "juniper", Time: at, RedFlags: flags}}
	}
	for _, row := range []struct {
		name  string
		until time.Time // that weighing has come to
		at    time.Time // on the check
		want  time.Time // when it is raised
	}{
		{"weighing has not begun", time.Time{}, now, now},
		{"weighing is hours behind", now.Add(-3 * time.Hour), now.Add(-time.Minute), now.Add(-time.Minute)},
		{"a phone is ahead", now, now.Add(4 * time.Minute), now},
		{"the clock of the house was a year ahead", now, now.AddDate(1, 0, 0), now},
		{"nothing is behind", now, now, now},
	} {
		h := house()
		h.Sync("juniper", start, endOfTime, []detect.Observation{look(start)})
		h.Advance(now.Add(-4 * time.Hour))
		round := func(until, now time.Time) []home.Transition { return append(h.Advance(until), h.Heed(now)...) }
		h.Sync("juniper", row.at, endOfTime, []detect.Observation{look(row.at, home.Straining)})
		turned := round(row.until, now)
		if len(turned) != 1 || turned[0].Finding.Urgency != home.Now || !turned[0].At.Equal(row.want) || !turned[0].Finding.Raised.Equal(row.want) {
			t.Errorf("%s: got %s", row.name, brief(turned))
		}
		turned = round(row.until, now)
		for _, later := range []time.Duration{time.Minute, 5 * time.Minute, time.Hour, 2 * Doubt, 400 * 24 * time.Hour} {
			h.members["juniper"].stale = true // as by readings that come late
			turned = append(turned, round(now.Add(later), now.Add(later))...)
		}
		if len(turned) != 0 {
			t.Errorf("%s: told again: %s", row.name, brief(turned))
		}
		well := now.AddDate(2, 0, 0)
		h.Sync("juniper", well, endOfTime, []detect.Observation{look(well)})
		if turned := round(well, well); !hasTurn(turned, home.RedFlagSeen, home.Closed) {
			t.Errorf("%s: after a check that sees none: %s", row.name, brief(turned))
		}
	}
}

// What a later home check has cleared is not told of any more, and what was told is not
// told again by a start.
func TestHouse_Heed_NotAgain(t *testing.T) {
	now := start.Add(10 * time.Hour)
	seen := home.HomeCheck{ID: "a", Cat: "juniper", Time: now.Add(-time.Hour), RedFlags: []home.RedFlag{home.Collapse}}
	well := home.HomeCheck{ID: "b", Cat: "juniper", Time: now.Add(-time.Minute)}
	h := house()
	h.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &seen}, {Check: &well}})
	if turned := h.Heed(now); len(turned) != 0 {
		t.Errorf("what is over: %s", brief(turned))
	}
	h = house()
	h.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &seen}})
	told := h.Heed(now)
	again := house()
	again.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &seen}})
	if len(told) != 1 {
		t.Fatalf("told %s", brief(told))
	}
	again.Restore(start.Add(time.Hour), []home.Finding{told[0].Finding})
	if turned := append(again.Advance(time.Time{}), again.Heed(now)...); len(turned) != 0 {
		t.Errorf("after a start: %s", brief(turned))
	}
	if turned := append(again.Advance(now), again.Heed(now)...); len(turned) != 0 {
		t.Errorf("when watching comes to it: %s", brief(turned))
	}
	if turned := again.Advance(now.Add(2 * Doubt)); hasTurn(turned, home.RedFlagSeen, home.Closed) {
		t.Errorf("closed by itself: %s", brief(turned))
	}
	// Taken back before watching came to it, it is closed like all that is taken back.
	h.Sync("juniper", seen.Time, seen.Time.Add(home.TimeStep), nil)
	turned := append(h.Advance(now), h.Advance(now.Add(time.Hour))...)
	if turned = append(turned, h.Advance(now.Add(2*Doubt))...); !hasTurn(turned, home.RedFlagSeen, home.Closed) {
		t.Errorf("taken back: %s", brief(turned))
	}
}
