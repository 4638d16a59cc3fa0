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

// What the clock of the house dated a year ahead, and was taken back, is closed like all
// that is taken back, also where the program was started meanwhile: it does not stand for
// the year.
func TestHouse_Heed_AheadTakenBack(t *testing.T) {
	now := start.Add(10 * time.Hour)
	ahead := home.HomeCheck{ID: "a", Cat: "juniper", Time: now.AddDate(1, 0, 0), RedFlags: []home.RedFlag{home.Collapse}}
	for _, started := range []bool{false, true} {
		h := house()
		h.Advance(now.Add(-time.Hour))
		h.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &ahead}})
		h.Advance(now)
		told := h.Heed(now)
		if len(told) != 1 {
			t.Fatalf("told %s", brief(told))
		}
		if started {
			h = house()
			h.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &ahead}})
			h.Restore(now, []home.Finding{told[0].Finding})
			h.Advance(now)
		}
		if turned := append(h.Advance(now.Add(2*Doubt)), h.Heed(now.Add(2*Doubt))...); len(turned) != 0 {
			t.Errorf("started %v, before it was taken back: %s", started, brief(turned))
		}
		h.Sync("juniper", ahead.Time, endOfTime, nil)
		turned := append(h.Advance(now.Add(3*Doubt)), h.Advance(now.Add(5*Doubt))...)
		if !hasTurn(turned, home.RedFlagSeen, home.Closed) {
			t.Errorf("started %v: %s", started, brief(turned))
		}
	}
}

// A second red flag, while the first stands, is told once, whichever way it comes to be
// known: in its turn, before weighing has come so far, late, or at a start.
func TestHouse_Heed_SeenAnew(t *testing.T) {
	at := func(hours int) time.Time { return start.Add(time.Duration(hours) * time.Hour) }
	first := home.HomeCheck{ID: "a", Cat: "juniper", Time: at(10), RedFlags: []home.RedFlag{home.Collapse}}
	second := home.HomeCheck{ID: "b", Cat: "juniper", Time: at(20), RedFlags: []home.RedFlag{home.Straining}}
	restarted := func(h *House, reached time.Time, checks ...home.HomeCheck) *House {
		again := house()
		for i := range checks {
			again.Sync("juniper", checks[i].Time, checks[i].Time.Add(home.TimeStep), []detect.Observation{{Check: &checks[i]}})
		}
		var open []home.Finding
		for _, f := range h.members["juniper"].told {
			open = append(open, f)
		}
		again.Restore(reached, open)
		return again
	}
	for name, tell := range map[string]func(h *House) (*House, []home.Transition){
		"in its turn": func(h *House) (*House, []home.Transition) {
			h.Add("juniper", detect.Observation{Check: &second})
			return h, h.Advance(at(20))
		},
		"weighing is behind": func(h *House) (*House, []home.Transition) {
			h.Add("juniper", detect.Observation{Check: &second})
			return h, append(h.Advance(time.Time{}), h.Heed(at(20))...)
		},
		"late": func(h *House) (*House, []home.Transition) {
			turned := h.Advance(at(30))
			h.Add("juniper", detect.Observation{Check: &second})
			return h, append(turned, h.Advance(at(30))...)
		},
		"at a start": func(h *House) (*House, []home.Transition) {
			h = restarted(h, at(30), first, second)
			return h, append(h.Advance(time.Time{}), h.Heed(at(31))...)
		},
	} {
		h := house()
		h.Sync("juniper", start, endOfTime, []detect.Observation{{Check: &first}})
		if turned := h.Advance(at(10)); !hasSign(turned, home.RedFlagSeen) {
			t.Fatalf("the first: %s", brief(turned))
		}
		h, turned := tell(h)
		if len(turned) != 1 || turned[0].Turn != home.Worsened || !turned[0].Finding.Onset.Equal(at(20)) {
			t.Errorf("%s: %s", name, brief(turned))
		}
		turned = nil
		for hour := 31; hour < 80; hour += 12 {
			h.members["juniper"].stale = hour == 55
			turned = append(turned, append(h.Advance(at(hour)), h.Heed(at(hour))...)...)
		}
		h = restarted(h, at(80), first, second)
		if turned = append(turned, append(h.Advance(time.Time{}), h.Advance(at(200))...)...); len(turned) != 0 {
			t.Errorf("%s: told again: %s", name, brief(turned))
		}
		h.Sync("juniper", at(20), at(20).Add(home.TimeStep), nil) // taken back: the first stands as it did
		if turned := h.Advance(at(201)); hasTurn(turned, home.RedFlagSeen, home.Worsened) {
			t.Errorf("%s: taken back: %s", name, brief(turned))
		}
	}
}
