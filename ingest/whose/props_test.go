package whose

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// drawHouse draws up to four cats, some of unknown weight, and two scales of
// which one may be closed to some cats.
func drawHouse(t *rapid.T) home.Household {
	var h home.Household
	n := rapid.IntRange(1, 4).Draw(t, "cats")
	for i := range n {
		id := fmt.Sprintf("cat-%d", i)
		c := home.Cat{ID: id, Name: id}
		if rapid.Bool().Draw(t, "known") {
			c.WeightKg = 2 + float64(rapid.IntRange(0, 400).Draw(t, "weight"))/100 + float64(i)/1000
		}
		h.Cats = append(h.Cats, c)
	}
	some := h.Cats[:rapid.IntRange(1, n).Draw(t, "allowed")]
	var ids []string
	for _, c := range some {
		ids = append(ids, c.ID)
	}
	h.Scales = []home.Scale{{ID: "box-1", Kind: home.LitterBox}, {ID: "box-2", Kind: home.LitterBox, Cats: ids}}
	return h
}

func drawVisits(t *rapid.T) []home.Visit {
	var out []home.Visit
	at := epoch
	for range rapid.IntRange(1, 60).Draw(t, "visits") {
		at = at.Add(time.Duration(rapid.IntRange(1, 3000).Draw(t, "minutes")) * time.Minute)
		out = append(out, home.Visit{
			Source: rapid.SampledFrom([]string{"box-1", "box-2"}).Draw(t, "source"),
			Start:  at, End: at.Add(time.Minute), Event: home.CatVisit,
			MassKg: rapid.Float64Range(0.1, 12).Draw(t, "mass"), SDKg: rapid.Float64Range(0, 0.1).Draw(t, "sd"),
		})
	}
	return out
}

// settledNames runs the visits and returns how each stood in the end.
func settledNames(a *Assigner, visits []home.Visit) []home.Visit {
	var stays []stay
	for _, v := range visits {
		stays = append(stays, stay{visit: v})
	}
	_, last := run(a, stays)
	return last
}

// Every visit is told once at least; a confidence is a probability, there with a
// name only; and no cat gets a visit to a scale that it does not use.
func TestAssigner_Step_NamesAreWellFormed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, visits := drawHouse(t), drawVisits(t)
		a := New(h)
		for i, v := range settledNames(a, visits) {
			if v.Source != visits[i].Source || !v.Start.Equal(visits[i].Start) {
				t.Fatalf("visit %d was not told", i)
			}
			named := v.Cat != ""
			if !(v.Confidence >= 0 && v.Confidence <= 1) || named != (v.Whose == home.Named) || named != (v.Confidence > 0) {
				t.Fatalf("visit %d: %+v", i, v)
			}
			if scale, _ := h.Scale(v.Source); named && !scale.Serves(v.Cat) {
				t.Fatalf("visit %d: %s does not use %s", i, v.Cat, v.Source)
			}
			if p, ok := a.Posterior(v.Source, v.Start); ok {
				sum := p.Guest
				for _, c := range p.Cats {
					sum += c.P
				}
				if math.Abs(sum-1) > 1e-6 {
					t.Fatalf("visit %d: probabilities sum to %g", i, sum)
				}
			}
		}
	})
}

// The ids of the cats are only names.
func TestAssigner_Step_RelabellingChangesNamesOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, visits := drawHouse(t), drawVisits(t)
		other := home.Household{Cats: slices.Clone(h.Cats)}
		called := map[string]string{"": ""}
		for i := range other.Cats {
			called[other.Cats[i].ID] = fmt.Sprintf("a-%d", 9-i)
			other.Cats[i].ID = called[other.Cats[i].ID]
		}
		for _, s := range h.Scales {
			s.Cats = slices.Clone(s.Cats)
			for i := range s.Cats {
				s.Cats[i] = called[s.Cats[i]]
			}
			other.Scales = append(other.Scales, s)
		}
		one, two := settledNames(New(h), visits), settledNames(New(other), visits)
		for i := range one {
			if called[one[i].Cat] != two[i].Cat || one[i].Confidence != two[i].Confidence || one[i].Whose != two[i].Whose {
				t.Fatalf("visit %d: %+v became %+v", i, one[i], two[i])
			}
		}
	})
}

// A visit that comes twice is one visit.
func TestAssigner_Step_DuplicateChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, visits := drawHouse(t), drawVisits(t)
		once, twice := New(h), New(h)
		for i, v := range visits {
			want, got := once.Step(v), twice.Step(v)
			if fmt.Sprint(want) != fmt.Sprint(got) {
				t.Fatalf("visit %d: got %v, want %v", i, got, want)
			}
			again := visits[rapid.IntRange(0, i).Draw(t, "again")]
			if out := twice.Step(again); len(out) != 0 {
				t.Fatalf("visit %d again: told %v", i, out)
			}
		}
	})
}

// A visit that a person named has that name, whatever it weighs.
func TestAssigner_Teach_AlwaysHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h, visits := drawHouse(t), drawVisits(t)
		a := New(h)
		said := map[int]string{}
		for range rapid.IntRange(1, 5).Draw(t, "lessons") {
			i := rapid.IntRange(0, len(visits)-1).Draw(t, "visit")
			cat := ""
			if k := rapid.IntRange(-1, len(h.Cats)-1).Draw(t, "cat"); k >= 0 {
				cat = h.Cats[k].ID
			}
			if err := a.Teach(visits[i].Source, visits[i].Start, cat); err != nil {
				t.Fatal(err)
			}
			said[i] = cat
		}
		last := settledNames(a, visits)
		for i, cat := range said {
			if v := last[i]; v.Cat != cat || v.Whose != home.Said {
				t.Fatalf("visit %d: got %q %s, want %q said", i, v.Cat, v.Whose, cat)
			}
		}
	})
}

// Two cats that weigh the same: every visit may be of either, what is told of each is
// a step of the grid, and no more than certain in all.
func TestAssigner_Shares_OfTwins(t *testing.T) {
	stays := play(5, part{id: "ash", to: 60, grams: steady(4300)}, part{id: "birch", to: 60, grams: steady(4310)})
	a := New(house(map[string]float64{"ash": 4.3, "birch": 4.31}, "ash", "birch"))
	told := map[time.Time]home.Visit{}
	for _, s := range stays {
		for _, v := range a.Step(s.visit) {
			told[v.Start] = v
		}
	}
	both := 0
	for _, v := range told {
		sum := 0.0
		for _, s := range v.Shares {
			if n := s.P * 20; math.Abs(n-math.Round(n)) > 1e-9 || s.P <= 0 {
				t.Errorf("a share of %g", s.P)
			}
			sum += s.P
		}
		if sum > 1+1e-9 {
			t.Errorf("%v", v.Shares)
		}
		if len(v.Shares) == 2 {
			both++
		}
	}
	if both < len(told)*9/10 {
		t.Errorf("%d of %d visits may be of either", both, len(told))
	}
}
