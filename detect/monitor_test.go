package detect

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

// TestMonitor_Step_LossIsFound proves that a steady loss of 1 % a week is found
// once, as falling, within a month and not before it began.
func TestMonitor_Step_LossIsFound(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	m := New(home.Cat{ID: "juniper", Name: "Juniper"}, Options{})
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	onset := start.AddDate(0, 0, 120)
	var raised []home.Finding
	for d := range 170 {
		for h := range 24 {
			now := start.AddDate(0, 0, d).Add(time.Duration(h) * time.Hour)
			for _, tr := range m.Tick(now) {
				if tr.Turn == home.Raised {
					raised = append(raised, tr.Finding)
				}
			}
			if h%8 != 3 {
				continue
			}
			kg := 4.5 * (1 + 0.01*rng.NormFloat64()) * math.Exp(-0.01/7*max(0, now.Sub(onset).Hours()/24))
			m.Step(Observation{Weighing: &home.Weighing{Cat: "juniper", Time: now.Add(time.Minute), Kg: kg, Source: "box-1", Confidence: 1}})
		}
	}
	if len(raised) != 1 || raised[0].Sign != home.WeightFalling {
		t.Fatalf("raised %+v, want one weight-falling", raised)
	}
	if lag := raised[0].Raised.Sub(onset); lag < 0 || lag > 30*24*time.Hour {
		t.Errorf("found %v after the onset, want 0 to 30 days", lag)
	}
	t.Log(raised[0].Text)
}

// A sign that weighings are not stepped through says nothing of one and keeps nothing of
// it, nor of the day that it ends, whatever was seen before.
func TestMonitor_Step_WeighingsReachWhoLooksAtThem(t *testing.T) {
	m := New(home.Cat{ID: "cat"}, Options{})
	lifeOf(m, eventfulLife(), epoch)
	for i, s := range m.signs {
		for day, box := range []bool{false, true} {
			w := home.Weighing{Cat: "cat", Time: epoch.AddDate(3, i, day), Kg: 4, Source: "box-1", Confidence: 1}
			o := Observation{Weighing: &w, Box: box}
			m.weights.step(o)
			before := fmt.Sprintf("%+v", s)
			v := s.step(o)
			if looks := v.stand != holds || fmt.Sprintf("%+v", s) != before; looks && !slices.Contains(m.weighed, i) {
				t.Errorf("%s looks at weighings, and is given none", s.kind())
			}
		}
	}
}
