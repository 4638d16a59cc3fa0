package app

import (
	"io"
	"log/slog"
	"strings"
	"testing"
	"time"

	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/ingest/weigh"
	"weighbeam/notify"
	"weighbeam/store"
)

// stepped is a house whose stages run round by round, by a clock that the test sets.
type stepped struct {
	*testing.T
	db      *store.DB
	now     time.Time
	weigher *weigh.Runner
	watcher *watch.Runner
	policy  notify.Policy
	turns   []home.Transition
}

func newStepped(t *testing.T, now time.Time) *stepped {
	t.Helper()
	s := &stepped{T: t, db: openStore(t, t.TempDir()), now: now}
	t.Cleanup(func() { s.db.Close() })
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper", WeightKg: 4}}, Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}
	if err := s.db.SetHousehold(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	s.start()
	return s
}

// start begins the stages, as a start of the program does.
func (s *stepped) start() {
	s.begin()
	s.round()
	s.round() // the first one made the history
}

// begin makes the stages, which have not gone round yet.
func (s *stepped) begin() {
	s.weigher = weigh.NewRunner(s.db, weigh.Options{Now: func() time.Time { return s.now }, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	s.watcher = watch.NewRunner(s.db, watch.Options{Now: func() time.Time { return s.now }, Reached: s.weigher.Reached, Decided: func() {}, Owed: func(t home.Transition, now time.Time) []home.Notice {
		s.turns = append(s.turns, t)
		return s.policy.Owed(t, now)
	}})
}

// say stores a batch and runs each stage once.
func (s *stepped) say(b home.Batch) {
	s.Helper()
	if _, err := s.db.Append(s.Context(), b); err != nil {
		s.Fatal(err)
	}
	s.round()
}

func (s *stepped) round() {
	s.Helper()
	if _, err := s.weigher.Round(s.Context()); err != nil {
		s.Fatal(err)
	}
	if _, err := s.watcher.Round(s.Context()); err != nil {
		s.Fatal(err)
	}
}

func (s *stepped) load(at time.Time, kg float64) home.Reading {
	return home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Arrived: s.now, Value: kg, Clock: home.ByDevice}
}

// A red flag is told in the round in which it was entered, though a scale sends out of
// order all the time.
func TestStages_RedFlag_WaitsForNothing(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	s := newStepped(t, noon)
	for range 60 {
		s.now = s.now.Add(time.Second)
		s.say(home.Batch{Readings: []home.Reading{s.load(s.now, 5), s.load(s.now.Add(-1500*time.Millisecond), 5)}})
	}
	s.now = s.now.Add(time.Second)
	s.say(home.Batch{
		Readings: []home.Reading{s.load(s.now, 5), s.load(s.now.Add(-1500*time.Millisecond), 5)},
		Checks:   []home.HomeCheck{{ID: "x", Cat: "juniper", Time: s.now, RedFlags: []home.RedFlag{home.Collapse}}},
	})
	if len(s.turns) != 1 || s.turns[0].Finding.Sign != home.RedFlagSeen || !s.turns[0].At.Equal(s.now) {
		t.Errorf("told %+v", s.turns)
	}
}

// A red flag that was entered just before the program ended is told in the first round
// after a start: before what makes weighings has come to any time.
func TestStages_RedFlag_EnteredBeforeAStart(t *testing.T) {
	for name, ago := range map[string]time.Duration{"before what was watched": watch.Lag + time.Minute, "since then": time.Minute} {
		s := newStepped(t, time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC))
		s.policy.Channels = []notify.Channel{{Name: "phone"}}
		seen := home.HomeCheck{ID: "x", Cat: "juniper", Time: s.now.Add(-ago), RedFlags: []home.RedFlag{home.Collapse}}
		if _, err := s.db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{seen}}); err != nil {
			t.Fatal(err)
		}
		s.begin()
		s.round()
		if !s.weigher.Reached().IsZero() {
			t.Fatal("weighing has come to a time: nothing is proved")
		}
		due, err := s.db.DueNotices(t.Context(), s.now, 10)
		if err != nil || len(s.turns) != 1 || len(due) != 1 || !due[0].Created.Equal(s.now) || !due[0].Due.Equal(s.now) {
			t.Errorf("seen %s: turned %+v, due %+v, %v", name, s.turns, due, err)
		}
		for range 3 {
			s.now = s.now.Add(time.Hour)
			s.round()
		}
		if len(s.turns) != 1 {
			t.Errorf("seen %s: turned again: %+v", name, s.turns[1:])
		}
	}
}

// A stage that has more to do at once for a quarter of an hour is not well, and says so.
func TestApp_Stages_Behind(t *testing.T) {
	a := &App{store: openStore(t, t.TempDir())}
	t.Cleanup(func() { a.store.Close() })
	f := a.follower("weigh", nil)
	problem := func() string { return a.followStage(t.Context(), f, 0).Problem }
	f.caughtUp = time.Now().Add(-14 * time.Minute)
	if f.note(true, nil); problem() != "" {
		t.Errorf("after 14 minutes: %s", problem())
	}
	f.caughtUp = time.Now().Add(-16 * time.Minute)
	if f.note(true, nil); !strings.Contains(problem(), "behind for 16m") {
		t.Errorf("after 16 minutes: %q", problem())
	}
	if f.note(false, nil); problem() != "" {
		t.Errorf("with nothing left: %s", problem())
	}
}

// The clock of the house runs a month ahead for two hours and is set right, while the
// program runs or before it starts again: what was told by the wrong clock is taken back
// at once, a red flag is told when it is entered, and a scale that really falls silent
// then is told as soon as ever.
func TestStages_ClockRanAhead(t *testing.T) {
	for _, restart := range []bool{false, true} {
		s := newStepped(t, time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC))
		right := s.now
		pass := func(hours int, off time.Duration, speaks bool) (told string) {
			s.turns = nil
			for range hours {
				right = right.Add(time.Hour)
				s.now = right.Add(off)
				var b home.Batch
				if speaks {
					b.Readings = append(b.Readings, s.load(right, 5))
				}
				s.say(b)
				s.round()
			}
			for _, turn := range s.turns {
				told += string(turn.Turn) + " " + string(turn.Finding.Sign) + ". "
			}
			return told
		}
		if told := pass(100, 0, true); told != "" {
			t.Fatalf("told %s", told)
		}
		const month = 30 * 24 * time.Hour
		told := pass(1, month, true)
		s.say(home.Batch{Checks: []home.HomeCheck{{ID: "early", Cat: "juniper", Time: s.now, Note: "well"}}})
		if told += pass(1, month, true); !strings.Contains(told, "raised scale-silent") {
			t.Fatalf("by the wrong clock nothing was told, but %q: nothing is proved", told)
		}
		if restart {
			s.now = right
			s.turns = nil
			s.start()
		}
		if told := pass(1, 0, true); !restart && !strings.Contains(told, "closed scale-silent") {
			t.Errorf("taken back: %s", told)
		}
		s.now, s.turns = s.now.Add(time.Minute), nil
		s.say(home.Batch{Checks: []home.HomeCheck{{ID: "x", Cat: "juniper", Time: s.now, RedFlags: []home.RedFlag{home.Collapse}}}})
		if len(s.turns) != 1 || s.turns[0].Finding.Sign != home.RedFlagSeen || !s.turns[0].At.Equal(s.now) {
			t.Errorf("restart %v: told of the red flag: %+v", restart, s.turns)
		}
		open, err := s.db.Findings(t.Context(), true, time.Time{})
		if err != nil || len(open) != 1 {
			t.Errorf("restart %v: these stand: %+v, %v", restart, open, err)
		}
		if told := pass(100, 0, true); strings.Contains(told, "scale-silent") {
			t.Errorf("restart %v: %s", restart, told)
		}
		if told := pass(96, 0, false); !strings.Contains(told, "raised scale-silent") {
			t.Errorf("restart %v: of a silence of four days was told: %q", restart, told)
		}
	}
}
