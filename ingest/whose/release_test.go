package whose

import (
	"testing"
	"time"

	"weighbeam/home"
)

// Years of weighings by a person, without a visit, are held only as long as a visit
// could be named by them.
func TestAssigner_Weigh_YearsWithoutAVisit(t *testing.T) {
	start := time.Date(2020, 1, 1, 12, 0, 0, 0, time.UTC)
	a := New(home.Household{Cats: []home.Cat{{ID: "juniper", WeightKg: 4}}})
	for day := range 3000 {
		a.Weigh(home.Weighing{Cat: "juniper", Time: start.AddDate(0, 0, day), Kg: 4, Source: home.Hand})
		if n := len(a.held); n > int(HoldFor/(24*time.Hour))+1 {
			t.Fatalf("%d weighings are held on day %d", n, day)
		}
	}
	if n := len(a.held); n < 40 {
		t.Errorf("only %d weighings are held", n)
	}
	named := a.Step(home.Visit{Source: "box-1", Event: home.CatVisit, Start: start.AddDate(0, 0, 3000), End: start.AddDate(0, 0, 3000), MassKg: 4, SDKg: 0.01})
	if len(named) != 1 || named[0].Cat != "juniper" {
		t.Errorf("the first visit is %+v", named)
	}
}
