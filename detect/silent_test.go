package detect

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// listen steps a Silence hour by hour; heard says at which hours the scale speaks.
// It returns the hours at which a finding was raised and closed.
func listen(hours int, heard func(h int) bool) (raised, closed []int) {
	s := NewSilence("box-1")
	for h := range hours {
		now := epoch.Add(time.Duration(h) * time.Hour)
		turned := s.Tick(now)
		if heard(h) {
			turned = append(turned, s.Step(Observation{Heard: now})...)
		}
		for _, t := range turned {
			switch t.Turn {
			case home.Raised:
				raised = append(raised, h)
			case home.Closed:
				closed = append(closed, h)
			}
		}
	}
	return raised, closed
}

// TestSilence proves when a scale is said to be silent, and when not.
func TestSilence(t *testing.T) {
	// A box that cats use at 1, 7, 13 and 21 o'clock: its longest pause is 8 hours.
	used := func(h int) bool { return h%24 == 1 || h%24 == 7 || h%24 == 13 || h%24 == 21 }
	for _, c := range []struct {
		name   string
		heard  func(h int) bool
		raised int // how often
		from   int // the first of them between these hours
		to     int
	}{
		// proves that a scale that was never heard is not said to have gone silent
		{"never heard", never, 0, 0, 0},
		// proves that one that goes on speaking is not
		{"used", used, 0, 0, 0},
		// proves that one that stops is told after twice its longest pause, once
		{"stops", func(h int) bool { return used(h) && h < 480 }, 1, 480 + 8, 480 + 20},
		// proves that one that speaks each hour is told within the day it stops
		{"hourly stops", func(h int) bool { return h < 480 }, 1, 480 + 2, 480 + 6},
		// proves that one that stops before its habit is known is told after three days
		{"early", func(h int) bool { return used(h) && h < 40 }, 1, 40 + 60, 40 + 80},
		// proves that a scale used once a week is told once, then known for what it is
		{"weekly", func(h int) bool { return h%168 == 0 }, 1, 72, 73},
		// proves that one outage does not blind it to the next
		{"two outages", func(h int) bool { return used(h) && h%480 < 400 }, 4, 400, 420},
	} {
		t.Run(c.name, func(t *testing.T) {
			raised, closed := listen(1920, c.heard)
			if len(raised) != c.raised || c.raised > 0 && (raised[0] < c.from || raised[0] > c.to) {
				t.Errorf("raised at %v, closed at %v", raised, closed)
			}
		})
	}
}

// A silence that stands ends with a word of the scale and with nothing else, and
// says that nothing is known meanwhile.
func TestSilence_Step_Closes(t *testing.T) {
	s := NewSilence("box-1")
	s.Step(Observation{Heard: epoch})
	turned := s.Tick(epoch.Add(100 * time.Hour))
	if len(turned) != 1 || turned[0].Finding.Source != "box-1" || turned[0].Finding.Cat != "" || !strings.Contains(turned[0].Finding.Text, "nothing is known") {
		t.Fatalf("got %+v", turned)
	}
	if again := s.Tick(epoch.Add(5000 * time.Hour)); len(again) != 0 {
		t.Errorf("told again: %+v", again)
	}
	back := epoch.Add(5001 * time.Hour)
	if turned = s.Step(Observation{Heard: back}); len(turned) != 1 || turned[0].Turn != home.Closed || !turned[0].At.Equal(back) || turned[0].Finding.Source != "box-1" {
		t.Errorf("got %+v", turned)
	}
}

// Whatever a scale does: turns alternate, nothing is raised within the least
// limit of a word, and silence beyond the greatest limit is always told.
func TestSilence_Property(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := NewSilence("box-1")
		now, last, open := epoch, time.Time{}, false
		for _, gap := range rapid.SliceOfN(rapid.IntRange(1, 600), 1, 60).Draw(rt, "hours between words") {
			for range gap {
				now = now.Add(time.Hour)
				for _, x := range s.Tick(now) {
					if open || x.Turn != home.Raised || now.Sub(last) < leastQuiet {
						rt.Fatalf("%v after %v of silence", x.Turn, now.Sub(last))
					}
					open = true
				}
				if !last.IsZero() && now.Sub(last) >= mostQuiet && !open {
					rt.Fatalf("%v of silence is not told", now.Sub(last))
				}
			}
			turned := s.Step(Observation{Heard: now})
			if (len(turned) == 1) != open {
				rt.Fatalf("open %v, heard: %v", open, turned)
			}
			last, open = now, false
		}
	})
}
