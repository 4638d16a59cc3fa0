package detect

import (
	"testing"
	"time"

	"weighbeam/home"
)

// quiet steps a monitor hour by hour; met says at which hours a scale, and
// counted at which a person, meets the cat. It returns the hours of each raise.
func quiet(hours int, met, counted func(h int) bool) (raised []int) {
	m := New(home.Cat{ID: "cat"}, Options{})
	for h := range hours {
		now := epoch.Add(time.Duration(h) * time.Hour)
		for _, tr := range m.Tick(now) {
			if tr.Turn == home.Raised && tr.Finding.Sign == home.NotSeen {
				raised = append(raised, h)
			}
		}
		if met(h) {
			m.Step(Observation{Weighing: &home.Weighing{Cat: "cat", Time: now, Kg: 4, Source: "box-1", Confidence: 1}})
		}
		if counted(h) {
			m.Step(Observation{Count: &home.Reading{Cat: "cat", Time: now, Source: home.Hand, Quantity: home.Breaths, Value: 20, Window: time.Minute, State: home.Asleep}})
		}
	}
	return raised
}

func never(int) bool { return false }

// TestNotSeen_Tick proves when silence is told and when it is not.
func TestNotSeen_Tick(t *testing.T) {
	usual := func(h int) bool { return h%8 == 0 && h < 1000 }
	for _, c := range []struct {
		name         string
		met, counted func(h int) bool
		want         int
	}{
		// proves that a cat whom the scales met thrice a day and then no more is missed, once
		{"gone", usual, never, 1},
		// proves that a person who sees it ends the silence, and that it is then not told again
		{"people see it", usual, func(h int) bool { return h > 1000 && h%100 == 0 }, 1},
		// proves that a cat that is met on and on is not missed
		{"there", func(h int) bool { return h%8 == 0 }, never, 0},
		// proves that one weighing every fifth day, after the usual three a day, is told once
		{"rarer", func(h int) bool { return usual(h) || h%120 == 0 }, never, 1},
		// proves that a cat who was never on a scale often is not missed by one
		{"rare from the start", func(h int) bool { return h%700 == 0 }, never, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := quiet(3000, c.met, c.counted); len(got) != c.want {
				t.Errorf("told at hours %v, want %d times", got, c.want)
			}
		})
	}
}

// TestNotSeen_Tick_InTime proves that a cat met thrice a day is missed within
// four days, and not in the first one and a half.
func TestNotSeen_Tick_InTime(t *testing.T) {
	got := quiet(1200, func(h int) bool { return h%8 == 0 && h < 1000 }, never)
	if len(got) != 1 || got[0] < 1000+28 || got[0] > 1000+96 {
		t.Errorf("told at hours %v", got)
	}
}
