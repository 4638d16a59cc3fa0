package whose

import (
	"errors"
	"testing"
	"time"

	"weighbeam/home"
)

func TestAssigner_Tag_NamesTheVisit(t *testing.T) {
	at := epoch.Add(time.Hour)
	visit := home.Visit{Source: "box-1", Start: at, End: at.Add(time.Minute), Event: home.CatVisit, MassKg: 4.2, SDKg: 0.01}
	for _, c := range []struct {
		name string
		tags map[time.Duration]string
		cat  string
		how  home.Whose
	}{
		// the tag decides against the weight
		{"within", map[time.Duration]string{20 * time.Second: "birch"}, "birch", home.Said},
		// a reader at the door of the box sees the cat before the scale does
		{"just before", map[time.Duration]string{-25 * time.Second: "birch"}, "birch", home.Said},
		// too early to be this visit: the weight decides
		{"long before", map[time.Duration]string{-5 * time.Minute: "birch"}, "ash", home.Named},
		// two cats at the reader: the tag decides nothing
		{"two tags", map[time.Duration]string{5 * time.Second: "birch", 9 * time.Second: "ash"}, "ash", home.Named},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := New(house(map[string]float64{"ash": 4.2, "birch": 5.4}, "ash", "birch"))
			for d, cat := range c.tags {
				if err := a.Tag(at.Add(d), "box-1", cat); err != nil {
					t.Fatal(err)
				}
			}
			got := a.Step(visit)
			if len(got) != 1 || got[0].Cat != c.cat || got[0].Whose != c.how {
				t.Errorf("got %+v, want %s %s", got, c.cat, c.how)
			}
		})
	}
}

func TestAssigner_Teach_UnknownCat(t *testing.T) {
	a := New(house(nil, "ash"))
	err := a.Teach("box-1", epoch, "birch")
	var hinted *home.Error
	if !errors.As(err, &hinted) || home.Hint(err) == "" {
		t.Errorf("got %v, want an error with a hint", err)
	}
	if a.Tag(epoch, "box-1", "") == nil {
		t.Error("a tag of no cat was taken")
	}
	if err := a.Teach("box-1", epoch, ""); err != nil {
		t.Errorf("somebody else: %v", err)
	}
}

func TestAssigner_Step_Meals(t *testing.T) {
	h := house(map[string]float64{"ash": 4.2, "birch": 5.4}, "ash", "birch")
	h.Scales = append(h.Scales,
		home.Scale{ID: "bowl-1", Kind: home.Feeder}, home.Scale{ID: "bowl-2", Kind: home.Feeder, Cats: []string{"birch"}})
	stand := home.Visit{Source: "bowl-1", Start: epoch, End: epoch.Add(time.Minute), Event: home.CatVisit, MassKg: 4.2, SDKg: 0.01}
	meal := func(source string, after time.Duration) home.Visit {
		return home.Visit{Source: source, Start: epoch.Add(after), End: epoch.Add(after + time.Minute), Event: home.Meal, LeftG: -20, HasLeft: true}
	}
	for _, c := range []struct {
		name string
		meal home.Visit
		tag  string
		cat  string
		how  home.Whose
	}{
		// the scale weighed the cat while it ate
		{"weighed", meal("bowl-1", 10*time.Second), "", "ash", home.Named},
		// an hour later it may have been anybody
		{"later", meal("bowl-1", time.Hour), "", "", home.Unclear},
		// the reader says who
		{"tag", meal("bowl-1", time.Hour), "birch", "birch", home.Said},
		// only one cat eats there
		{"own bowl", meal("bowl-2", time.Hour), "", "birch", home.Named},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := New(h)
			a.Step(stand)
			if c.tag != "" {
				if err := a.Tag(c.meal.Start, c.meal.Source, c.tag); err != nil {
					t.Fatal(err)
				}
			}
			got := a.Step(c.meal)
			if len(got) != 1 || got[0].Cat != c.cat || got[0].Whose != c.how || got[0].LeftG != c.meal.LeftG {
				t.Errorf("got %+v, want %q %s", got, c.cat, c.how)
			}
		})
	}
}
