package visit

import (
	"testing"
	"time"

	"weighbeam/home"
)

// A cat of 4.5 kg stays a minute on a quiet scale and leaves 30 g.
func TestTracker_Step_OneCat(t *testing.T) {
	tr := New(home.LitterBox)
	t0 := time.Date(2025, 3, 3, 4, 0, 0, 0, time.UTC)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	for i := range 5 * 600 {
		s := float64(i) / 5
		kg := 6.0
		switch {
		case s >= 100 && s < 160:
			kg = 10.5
			if i%2 == 0 {
				kg += 0.02
			} else {
				kg -= 0.02
			}
		case s >= 160:
			kg = 6.03
		}
		tr.Step(t0.Add(time.Duration(i)*200*time.Millisecond), kg, emit)
	}
	tr.Tick(t0.Add(time.Hour), emit)
	if len(got) != 1 {
		t.Fatalf("got %d events, want 1: %+v", len(got), got)
	}
	t.Logf("%+v", got[0])
}
