package detect

import (
	"slices"
	"testing"

	"weighbeam/home"
)

// TestPlanTooFast_AnyCat proves that a loss of 3 % a week, where 2 % is the most, is told
// of every cat of twenty: a level that lags behind a diet makes it look slower.
func TestPlanTooFast_AnyCat(t *testing.T) {
	const file = "testdata/fact11-plan-too-fast.scenario"
	for seed := range uint64(20) {
		s, err := readScenario(file, seed)
		if err != nil {
			t.Fatal(err)
		}
		s.until = 152
		told := slices.ContainsFunc(s.run(), func(tr home.Transition) bool { return tr.Finding.Sign == home.PlanTooFast })
		if !told {
			t.Errorf("cat %d: not told by day %d", seed, s.until)
		}
	}
}
