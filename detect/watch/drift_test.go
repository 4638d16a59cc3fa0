package watch

import (
	"fmt"
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// A scale that weighs 2 % more from one day on is told once, about the scale; a
// house that is started again knows it still, and one whose scale is gone closes it.
func TestHouse_Advance_TellsAScaleThatDrifts(t *testing.T) {
	begin := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	of := home.Household{Cats: []home.Cat{{ID: "fig", Name: "Fig"}, {ID: "moss", Name: "Moss"}},
		Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}, {ID: "box-2", Kind: home.LitterBox}}}
	weighed := map[string][]detect.Observation{}
	for day := range 100 {
		for i, cat := range []string{"fig", "moss"} {
			for k := range 4 {
				kg := (4 + float64(i)) * (1 + 0.002*float64((day+k)%3))
				if day > 60 && k%2 == 0 {
					kg *= 1.02
				}
				weighed[cat] = append(weighed[cat], detect.Observation{Weighing: &home.Weighing{Cat: cat, Source: fmt.Sprint("box-", 1+k%2),
					Time: begin.AddDate(0, 0, day).Add(time.Duration(5*k+i) * time.Hour), Kg: kg, SDKg: 0.02, Confidence: 1}})
			}
		}
	}
	made := func() *House {
		h := NewHouse(detect.Options{})
		h.SetHousehold(of)
		for cat, obs := range weighed {
			h.Sync(cat, begin, endOfTime, obs)
		}
		return h
	}
	drifting := func(turned []home.Transition, turn home.Turn) (out []home.Finding) {
		for _, tr := range turned {
			if tr.Finding.Sign == home.ScaleDrifting && tr.Turn == turn {
				out = append(out, tr.Finding)
			}
		}
		return out
	}
	h := made()
	var told []home.Finding
	end := begin.AddDate(0, 0, 80)
	for now := begin; now.Before(end); now = now.Add(7 * time.Hour) {
		told = append(told, drifting(h.Advance(now), home.Raised)...)
	}
	if len(told) != 2 || told[0].Source == told[1].Source || told[0].Raised.Before(begin.AddDate(0, 0, 61)) {
		t.Fatalf("told %+v, want one of each of two scales that no longer agree", told)
	}
	again := made()
	again.Restore(h.Reached(), told)
	if twice := drifting(again.Advance(end.AddDate(0, 0, 5)), home.Raised); len(twice) != 0 {
		t.Errorf("told again after a start: %+v", twice)
	}
	at := drifting(made().Advance(end), home.Raised)
	if len(at) != 2 || !at[0].Raised.Equal(told[0].Raised) {
		t.Errorf("in one go it is told at %v, step by step at %v", at, told[0].Raised)
	}
	of.Scales = of.Scales[1:]
	again.SetHousehold(of)
	if gone := drifting(again.Advance(end.AddDate(0, 0, 6)), home.Closed); len(gone) != 1 || gone[0].Source != "box-1" {
		t.Errorf("closed %+v", gone)
	}
}
