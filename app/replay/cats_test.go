package replay

import (
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// named are the weighings of a cat whose name is known, which loses so many percent a
// week from day 120 on.
func named(cat string, kg, loss float64) []home.Reading {
	rng := rand.New(rand.NewPCG(uint64(len(cat)), uint64(kg*1000)))
	var out []home.Reading
	for day := range 240 {
		for range 3 {
			at := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, day).Add(time.Duration(rng.IntN(86400)) * time.Second)
			now := kg*math.Exp(-loss/100/7*max(0, float64(day-120))) + 0.03*rng.NormFloat64()
			out = append(out, home.Reading{Source: "box", Quantity: home.Weight, Time: at, Value: now, Cat: cat})
		}
	}
	return out
}

// TestRun_Step_HealthyCatChangesNoOther proves that one more cat that is well, on the
// same scale, changes nothing of what is told of the others.
func TestRun_Step_HealthyCatChangesNoOther(t *testing.T) {
	house := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}, {ID: "barnaby", Name: "Barnaby"}, {ID: "saffron", Name: "Saffron"}}}
	told := func(readings ...[]home.Reading) map[string][]home.Transition {
		all := slices.Concat(readings...)
		slices.SortStableFunc(all, func(a, b home.Reading) int { return a.Time.Compare(b.Time) })
		run := New(house, nil, detect.Options{})
		for _, r := range all {
			run.Step(r)
		}
		run.End()
		by := map[string][]home.Transition{}
		for _, tr := range run.turned {
			by[tr.Finding.Cat] = append(by[tr.Finding.Cat], tr)
		}
		return by
	}
	juniper, barnaby := named("juniper", 4.5, 0.8), named("barnaby", 5.2, 0)
	before := told(juniper, barnaby)
	after := told(juniper, barnaby, named("saffron", 4.6, 0))
	if len(before["juniper"]) == 0 {
		t.Fatal("nothing is told of the cat that loses")
	}
	if len(after["saffron"]) > 0 {
		t.Errorf("the healthy cat: %v", after["saffron"])
	}
	for _, cat := range []string{"juniper", "barnaby"} {
		if !reflect.DeepEqual(before[cat], after[cat]) {
			t.Errorf("%s: %v, with one cat more %v", cat, before[cat], after[cat])
		}
	}
}
