package weigh

import (
	"context"
	"io"
	"log/slog"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// house has two cats a kilogram apart, who use both boxes.
func house() home.Household {
	return home.Household{
		Cats:   []home.Cat{{ID: "juniper", Name: "Juniper", WeightKg: 4}, {ID: "moss", Name: "Moss", WeightKg: 5}},
		Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}, {ID: "box-2", Kind: home.LitterBox}},
	}
}

func settledAt(source string, after time.Duration, kg float64) home.Reading {
	return home.Reading{Source: source, Quantity: home.Weight, Time: noon.Add(after), Value: kg, Clock: home.ByDevice}
}

// weeks is some weeks of settled weights from both boxes.
func weeks(days int) []home.Reading {
	var all []home.Reading
	for d := range days {
		for i, source := range []string{"box-1", "box-2"} {
			at := time.Duration(24*d+6*i) * time.Hour
			all = append(all, settledAt(source, at, 4+0.01*float64(d%3)), settledAt(source, at+3*time.Hour, 5-0.01*float64(d%4)))
		}
	}
	return all
}

// A visit is named once others that began before it can no longer close.
func TestWeigher_Release_WaitsForHold(t *testing.T) {
	w := New(house(), nil, nil)
	w.Step(settledAt("box-1", 0, 4))
	if got := w.Release(noon.Add(Hold)); len(got) != 0 {
		t.Errorf("named at once: %+v", got)
	}
	got := w.Release(noon.Add(Hold + time.Second))
	if len(got) != 1 || got[0].Source != "box-1" || got[0].MassKg != 4 || got[0].SDKg <= 0 {
		t.Errorf("got %+v", got)
	}
}

// Visits to several boxes are named in the order in which they began, however
// they were batched.
func TestWeigher_Release_BatchesDoNotMatter(t *testing.T) {
	readings := weeks(30)
	names := func(each func(w *Weigher, put func([]home.Visit))) map[visitKey]string {
		w, named := New(house(), nil, nil), map[visitKey]string{}
		put := func(visits []home.Visit) {
			for _, v := range visits {
				named[keyOf(v)] = v.Cat
			}
		}
		each(w, put)
		put(w.Release(noon.AddDate(0, 0, 40)))
		return named
	}
	one := names(func(w *Weigher, put func([]home.Visit)) {
		for _, r := range readings {
			w.Step(r)
			put(w.Release(r.Time))
		}
	})
	byBox := names(func(w *Weigher, _ func([]home.Visit)) {
		for _, source := range []string{"box-2", "box-1"} {
			for _, r := range readings {
				if r.Source == source {
					w.Step(r)
				}
			}
		}
	})
	if len(one) != len(readings) || !reflect.DeepEqual(one, byBox) {
		t.Errorf("%d visits one by one, %d box by box, of %d readings; or other names", len(one), len(byBox), len(readings))
	}
	cats := map[string]int{}
	for _, cat := range one {
		cats[cat]++
	}
	if cats["juniper"] < 55 || cats["moss"] < 55 {
		t.Errorf("named %v of 60 each", cats)
	}
}

func TestWeigher_Late(t *testing.T) {
	for _, row := range []struct {
		name string
		r    home.Reading
		late bool
	}{
		{"in time", settledAt("box-1", time.Hour, 4), false},
		{"a visit before what was named", settledAt("box-1", -time.Hour, 4), true},
		{"a weighing by hand before it", home.Reading{Source: home.Hand, Quantity: home.Weight, Time: noon.Add(-time.Hour), Value: 4, Cat: "juniper"}, true},
		{"load that goes back", home.Reading{Source: "box-2", Quantity: home.Load, Time: noon.Add(-time.Hour), Value: 5}, true},
		{"a count, which weighs nothing", home.Reading{Source: home.Hand, Quantity: home.Breaths, Time: noon.Add(-time.Hour), Value: 11, Cat: "juniper"}, false},
	} {
		w := New(house(), nil, nil)
		w.Step(home.Reading{Source: "box-2", Quantity: home.Load, Time: noon, Value: 5})
		w.Release(noon.Add(30 * time.Minute))
		w.Step(row.r)
		if w.Late() != row.late {
			t.Errorf("%s: late is %v", row.name, w.Late())
		}
	}
}

// A visit that is understood only after one that began later had its name comes late:
// names follow from the order in which visits began.
func TestWeigher_Late_OutOfOrder(t *testing.T) {
	of := func(source string, began time.Duration) home.Visit {
		return home.Visit{Source: source, Start: noon.Add(began), End: noon.Add(began + time.Minute), Event: home.CatVisit, MassKg: 4, SDKg: 0.02}
	}
	w := New(house(), nil, nil)
	w.close(of("box-2", 5*time.Minute))
	w.close(of("box-1", 4*time.Minute)) // both wait still
	if w.Release(noon.Add(time.Hour)); w.Late() {
		t.Error("visits that waited together came late")
	}
	if w.close(of("box-1", 6*time.Minute)); w.Late() {
		t.Error("a visit that began after all that are named came late")
	}
	if w.close(of("box-1", 3*time.Minute)); !w.Late() {
		t.Error("a visit that began before one that is named is not late")
	}
}

// fixture is a store and a runner over it whose clock the test sets.
type fixture struct {
	db   *store.DB
	now  time.Time
	keep time.Duration
	step int // of letting go; 0: as usual
}

func (f *fixture) clock() time.Time { return f.now }

// until runs a new Runner, as after a start, until it has seen the clock.
func (f *fixture) until(t *testing.T) {
	t.Helper()
	r := NewRunner(f.db, Options{Now: f.clock, Keep: f.keep, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	if f.step > 0 {
		r.step = f.step
	}
	for rounds := 0; r.Reached().Before(f.now); rounds++ {
		if _, err := r.Round(t.Context()); err != nil || rounds > 100 {
			t.Fatalf("round %d: %v", rounds, err)
		}
	}
}

func newFixture(t *testing.T, now time.Time) *fixture {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	if err := db.SetHousehold(t.Context(), house()); err != nil {
		t.Fatal(err)
	}
	return &fixture{db: db, now: now}
}

func (f *fixture) append(t *testing.T, readings ...home.Reading) {
	t.Helper()
	if _, err := f.db.Append(t.Context(), home.Batch{Readings: readings}); err != nil {
		t.Fatal(err)
	}
}

func (f *fixture) visits(t *testing.T) []home.Visit {
	t.Helper()
	v, err := f.db.Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Starting again writes nothing: what is derived again is what was kept.
func TestRunner_Run_StartingAgainChangesNothing(t *testing.T) {
	f := newFixture(t, noon.AddDate(0, 0, 31))
	f.append(t, weeks(30)...)
	f.until(t)
	first := f.visits(t)
	before, err := f.db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	f.until(t)
	after, err := f.db.JournalEnd(t.Context())
	if err != nil || after != before || len(first) != 120 || !reflect.DeepEqual(f.visits(t), first) {
		t.Errorf("%d visits; the journal went from %d to %d, %v", len(first), before, after, err)
	}
}

// Readings that come late take their place, as if they had come in time.
func TestRunner_Run_LateReadingsTakeTheirPlace(t *testing.T) {
	readings := weeks(20)
	inTime, late := newFixture(t, noon.AddDate(0, 0, 21)), newFixture(t, noon.AddDate(0, 0, 21))
	inTime.append(t, readings...)
	inTime.until(t)
	late.append(t, append(append([]home.Reading{}, readings[:10]...), readings[30:]...)...)
	late.until(t)
	late.append(t, readings[10:30]...)
	late.until(t)
	if got, want := late.visits(t), inTime.visits(t); !reflect.DeepEqual(got, want) {
		t.Errorf("%d visits, want %d, or other names", len(got), len(want))
	}
}

// What a person says of a visit holds, also over what the weights say.
func TestRunner_Run_NamingByAPersonHolds(t *testing.T) {
	f := newFixture(t, noon.AddDate(0, 0, 31))
	f.append(t, weeks(30)...)
	f.until(t)
	v := f.visits(t)[len(f.visits(t))-1]
	other := "juniper"
	if v.Cat == "juniper" {
		other = "moss"
	}
	if err := f.db.Name(t.Context(), home.Naming{Source: v.Source, Start: v.Start, Cat: other, At: noon}); err != nil {
		t.Fatal(err)
	}
	f.until(t)
	for _, got := range f.visits(t) {
		if got.Source == v.Source && got.Start.Equal(v.Start) && (got.Cat != other || got.Whose != home.Said) {
			t.Errorf("the visit is %q (%s), said to be %q", got.Cat, got.Whose, other)
		}
	}
}

// slow is a store whose household changes just after it was read.
type slow struct {
	*store.DB
	change func()
}

func (s *slow) Household(ctx context.Context) (home.Household, error) {
	h, err := s.DB.Household(ctx)
	if s.change != nil {
		s.change()
		s.change = nil
	}
	return h, err
}

// A household that is set while the history is being read is not missed.
func TestRunner_Round_HouseholdSetMeanwhile(t *testing.T) {
	f := newFixture(t, noon.AddDate(0, 0, 31))
	if err := f.db.SetHousehold(t.Context(), home.Household{}); err != nil {
		t.Fatal(err)
	}
	f.append(t, weeks(30)...)
	s := &slow{DB: f.db, change: func() {
		if err := f.db.SetHousehold(t.Context(), house()); err != nil {
			t.Fatal(err)
		}
	}}
	r := NewRunner(s, Options{Now: f.clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
	for rounds := 0; r.Reached().Before(f.now); rounds++ {
		if _, err := r.Round(t.Context()); err != nil || rounds > 100 {
			t.Fatalf("round %d: %v", rounds, err)
		}
	}
	named := 0
	for _, v := range f.visits(t) {
		if v.Cat != "" {
			named++
		}
	}
	if named < 100 {
		t.Errorf("%d of 120 visits are named", named)
	}
}
