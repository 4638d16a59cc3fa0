package home

import (
	"strings"
	"testing"
	"time"
)

func care(k CareKind, change func(*Care)) Care {
	c := Care{ID: "1", Cat: "juniper", Kind: k, From: noon, Told: noon, Words: "a"}
	change(&c)
	return c
}

func TestCare_Valid(t *testing.T) {
	same := func(*Care) {}
	plan := func(c *Care) { c.Plan = &Plan{From: c.From, Until: c.Until, TargetKg: 4} }
	for _, row := range []struct {
		name string
		c    Care
		want string
	}{
		{"a visit", care(VetVisit, func(c *Care) { c.Words = "" }), ""},
		{"a diagnosis", care(Diagnosis, same), ""},
		{"a diagnosis of nothing", care(Diagnosis, func(c *Care) { c.Words = " " }), "in words"},
		{"a medicine without a name", care(MedicineStarted, func(c *Care) { c.Words = "" }), "in words"},
		{"a plan", care(PlanAgreed, plan), ""},
		{"a plan for nothing", care(PlanAgreed, same), "target"},
		{"a plan of another time", care(PlanAgreed, func(c *Care) { plan(c); c.From = c.From.Add(1) }), "as long as"},
		{"a plan for a visit", care(VetVisit, plan), "neither"},
		{"a collar", care(Step, func(c *Care) { c.StepKg = 0.08 }), ""},
		{"a step of nothing", care(Step, same), "step"},
		{"a step in grams", care(Step, func(c *Care) { c.StepKg = 80 }), "step"},
		{"away for a week", care(Away, func(c *Care) { c.Until = noon.AddDate(0, 0, 7) }), ""},
		{"back before it left", care(Away, func(c *Care) { c.Until = noon }), "after"},
		// A visit is of one moment: an end would be read as something else.
		{"a visit with an end", care(VetVisit, func(c *Care) { c.Until = noon.Add(time.Hour) }), "no end"},
		{"an odd kind", care("haircut", same), "unknown kind"},
		{"no time", care(VetVisit, func(c *Care) { c.From = time.Time{} }), "time"},
	} {
		err := row.c.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
}

// The newest plan that is on holds; a plan that ended does not.
func TestPlanOn_NewestHolds(t *testing.T) {
	agreed := func(from, until time.Time, kg float64) Care {
		return Care{Kind: PlanAgreed, From: from, Until: until, Plan: &Plan{From: from, Until: until, TargetKg: kg}}
	}
	day := func(n int) time.Time { return noon.AddDate(0, 0, n) }
	all := []Care{agreed(day(10), time.Time{}, 5), agreed(day(0), time.Time{}, 6), agreed(day(20), day(30), 4), {Kind: VetVisit, From: day(40)}}
	for _, row := range []struct {
		at   time.Time
		want float64 // 0 for no plan
	}{{day(-1), 0}, {day(0), 6}, {day(15), 5}, {day(20), 4}, {day(30), 5}} {
		p := PlanOn(all, row.at)
		if got := kg(p); got != row.want {
			t.Errorf("on %v: got %g, want %g", row.at, got, row.want)
		}
	}
}

func kg(p *Plan) float64 {
	if p == nil {
		return 0
	}
	return p.TargetKg
}

func TestCorrection_Valid(t *testing.T) {
	good := Correction{ID: "k", Cat: "juniper", Matter: OfCheck, Target: "c", Replacement: "d", At: noon, Why: "wrong cat"}
	for _, row := range []struct {
		change func(*Correction)
		want   string
	}{
		{func(*Correction) {}, ""},
		{func(c *Correction) { c.Replacement = "" }, ""}, // taken back
		{func(c *Correction) { c.Why = "" }, "why"},
		{func(c *Correction) { c.Replacement = "c" }, "own place"},
		{func(c *Correction) { c.Matter = OfVisit }, "of a"},
		{func(c *Correction) { c.At = time.Time{} }, "time"},
		{func(c *Correction) { c.Cat = "" }, "cat"},
	} {
		c := good
		row.change(&c)
		err := c.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%+v: got %v, want %q", c, err, row.want)
		}
	}
	a, b := breaths(func(*Reading) {}), breaths(func(r *Reading) { r.Seq = 1 })
	if a.Key() == b.Key() || a.Key() != "hand/breaths/1741003200000000/0/juniper" {
		t.Errorf("got %s and %s", a.Key(), b.Key())
	}
}
