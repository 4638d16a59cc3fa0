package home

import (
	"testing"
	"time"
)

func TestPlan_Valid(t *testing.T) {
	from := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		plan Plan
		ok   bool
	}{
		// proves that a start and a target are a plan
		{Plan{From: from, TargetKg: 4.5}, true},
		// proves that a plan has a start
		{Plan{TargetKg: 4.5}, false},
		// proves that a plan ends after it starts
		{Plan{From: from, Until: from, TargetKg: 4.5}, false},
		// proves that a target is a cat's weight
		{Plan{From: from, TargetKg: 450}, false},
		// proves that no plan is faster than 5 % a week
		{Plan{From: from, TargetKg: 4.5, MostPerWk: 9}, false},
	} {
		if err := c.plan.Valid(); (err == nil) != c.ok {
			t.Errorf("%+v: %v", c.plan, err)
		}
	}
}

// TestPlan_On proves that a plan holds from its first day to its last, or for
// good, and that the pace is the published one unless another was agreed.
func TestPlan_On(t *testing.T) {
	from := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	p := Plan{From: from, Until: from.AddDate(0, 3, 0), TargetKg: 4.5}
	if p.On(from.Add(-time.Second)) || !p.On(from) || p.On(p.Until) || !(Plan{From: from}).On(from.AddDate(9, 0, 0)) {
		t.Error("the plan is on when it is not, or the other way round")
	}
	if p.Most() != MostPlanned || (Plan{MostPerWk: 1}).Most() != 1 {
		t.Error("the greatest pace is wrong")
	}
}
