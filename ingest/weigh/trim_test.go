package weigh

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

// brief is what was understood, in words that can be compared.
func brief(visits []home.Visit) string {
	var lines []string
	for _, v := range visits {
		lines = append(lines, fmt.Sprintf("%s %s %s %s %.5f %s %.6f", v.Start.Format(time.RFC3339Nano), v.Source, v.End.Format(time.TimeOnly), v.Event, v.MassKg, v.Cat, v.Confidence))
	}
	return strings.Join(lines, "\n")
}

// Letting go of old load changes no visit and no name: not what was understood
// before, not what comes after, not after starting again.
func TestRunner_Trim_ChangesNoVisit(t *testing.T) {
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	sim, err := simulator.New(simulator.Options{Seed: 3, Start: start, Days: 16, Cats: 2, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	readings := slices.Collect(sim.Load())
	half := len(readings) / 2
	finish := func(keep time.Duration, step int) (*fixture, string) {
		f := newFixture(t, readings[half].Time)
		if err := f.db.SetHousehold(t.Context(), sim.Household()); err != nil {
			t.Fatal(err)
		}
		f.keep, f.step = keep, step
		for part := range slices.Chunk(readings[:half], 5000) {
			f.append(t, part...)
		}
		f.until(t)
		f.until(t) // and again, from the checkpoints
		for part := range slices.Chunk(readings[half:], 5000) {
			f.append(t, part...)
		}
		f.now = readings[len(readings)-1].Time.Add(time.Hour)
		f.until(t)
		return f, brief(f.visits(t))
	}
	_, want := finish(0, 0)
	if _, got := finish(3*24*time.Hour, 0); got != want {
		t.Errorf("with old load gone:\n%s\nwant\n%s", got, want)
	}
	trimmed, got := finish(3*24*time.Hour, 700) // in parts, some of which end within a visit
	if got != want {
		t.Errorf("with old load gone in parts:\n%s\nwant\n%s", got, want)
	}
	if strings.Count(want, "\n") < 30 {
		t.Fatalf("only these visits, nothing is proved:\n%s", want)
	}
	for _, s := range sim.Household().Scales {
		left, err := trimmed.db.Readings(t.Context(), s.ID, home.Load, time.Time{}, time.Time{})
		if err != nil || len(left) == 0 {
			t.Fatalf("%d readings left of %s, %v", len(left), s.ID, err)
		}
		if oldest := left[0].Time; trimmed.now.Sub(oldest) > 4*24*time.Hour {
			t.Errorf("%s still keeps load of %s", s.ID, oldest)
		}
	}
}

// Whose a visit was, brought along from an export before the load that the visit is
// made from, names it all the same.
func TestRunner_ImportedNaming_NamesTheVisit(t *testing.T) {
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	sim, err := simulator.New(simulator.Options{Seed: 3, Start: start, Days: 2, Cats: 2, Scales: 1})
	if err != nil {
		t.Fatal(err)
	}
	made := func(namings ...home.Naming) []home.Visit {
		f := newFixture(t, start.AddDate(0, 0, 3))
		if err := f.db.SetHousehold(t.Context(), sim.Household()); err != nil {
			t.Fatal(err)
		}
		for _, s := range namings {
			if err := f.db.ImportNaming(t.Context(), s); err != nil {
				t.Fatal(err)
			}
		}
		for part := range slices.Chunk(slices.Collect(sim.Load()), 5000) {
			f.append(t, part...)
		}
		f.until(t)
		return slices.DeleteFunc(f.visits(t), func(v home.Visit) bool { return v.Event != home.CatVisit })
	}
	first := made()[0]
	other := sim.Household().Cats[0].ID
	if first.Cat == other {
		other = sim.Household().Cats[1].ID
	}
	named := made(home.Naming{Source: first.Source, Start: first.Start, Cat: other, By: "Ada", At: start.AddDate(0, 0, 2)})[0]
	if named.Cat != other || named.Whose != home.Said || !named.Start.Equal(first.Start) {
		t.Errorf("the visit of %s is of %s (%s), and was said to be of %s", named.Start, named.Cat, named.Whose, other)
	}
}

// What is let go is gone: while the clock of the house is a year ahead, load goes by the
// days on which something was heard, one for each, and not by the year.
func TestRunner_Trim_ClockAhead(t *testing.T) {
	f := newFixture(t, noon)
	f.keep = 7 * 24 * time.Hour
	for day := range 20 {
		f.append(t, stay("box-1", noon.AddDate(0, 0, day))...)
	}
	oldest := func() int {
		f.until(t)
		left, err := f.db.FirstReadings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{}, 1)
		if err != nil || len(left) == 0 {
			t.Fatalf("%d readings left, %v", len(left), err)
		}
		return int(left[0].Time.Sub(noon).Hours() / 24)
	}
	f.now = noon.AddDate(0, 0, 19).Add(time.Hour)
	if got := oldest(); got != 12 { // the seven days before today
		t.Fatalf("the right clock keeps load from day %d on", got)
	}
	f.now = noon.AddDate(1, 0, 20)
	f.append(t, stay("box-2", f.now.Add(-time.Hour))...) // dated by the wrong clock
	if got := oldest(); got != 13 {                      // seven days, of which day 19 is one
		t.Errorf("the wrong clock keeps load from day %d on", got)
	}
	f.now = f.now.AddDate(0, 0, 1)
	if got := oldest(); got != 14 {
		t.Errorf("after a day of the wrong clock, load is kept from day %d on", got)
	}
}

// A house that has not lived as many days as load is kept for lets nothing go, however
// much there is of it and whatever the clock says.
func TestRunner_Trim_YoungHouse(t *testing.T) {
	for _, now := range []time.Time{noon.AddDate(0, 0, 3), noon.AddDate(1, 0, 0)} {
		f := newFixture(t, now)
		f.keep, f.step = 7*24*time.Hour, 50
		n := 0
		for day := range 3 {
			load := stay("box-1", noon.AddDate(0, 0, day))
			f.append(t, load...)
			n += len(load)
		}
		f.until(t)
		left, err := f.db.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{})
		if err != nil || len(left) != n || n < 2*f.step {
			t.Errorf("by %s, %d of %d readings are left, %v", now.Format(time.DateOnly), len(left), n, err)
		}
	}
}
