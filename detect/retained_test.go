package detect

import (
	"testing"
	"time"

	"weighbeam/home"
)

// Nothing is found from copies that a broker kept, which come again at each connect,
// where the same counts, heard when they were made, find something.
func TestMonitor_Step_RetainedAlone(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		sign home.Sign
		home.Reading
	}{
		{home.TempOutOfRange, home.Reading{Quantity: home.Temperature, Value: 41}},
		{home.HeartOutOfRange, home.Reading{Quantity: home.Heartbeats, Value: 150, Window: 30 * time.Second, State: home.Resting}},
		{home.BreathingHigh, home.Reading{Quantity: home.Breaths, Value: 24, Window: 30 * time.Second, State: home.Asleep}},
	} {
		for _, retained := range []bool{false, true} {
			m := New(home.Cat{ID: "cat", Name: "Cat"}, Options{})
			found := false
			for day := range 4 {
				r := row.Reading
				r.Cat, r.Source, r.Time, r.Retained = "cat", "collar", noon.AddDate(0, 0, day), retained
				for _, turn := range m.Step(Observation{Count: &r}) {
					found = found || turn.Finding.Sign == row.sign
				}
			}
			if found == retained {
				t.Errorf("%s of retained copies (%v): found is %v", row.sign, retained, found)
			}
		}
	}
}
