package weigh

import (
	"context"
	"io"
	"log/slog"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// running is a Runner that goes on while the test's clock does.
func (f *fixture) running() *Runner { return f.runningOver(f.db) }

func (f *fixture) runningOver(s Store) *Runner {
	return NewRunner(s, Options{Now: f.clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
}

// rounds runs r until it has nothing more to do.
func (f *fixture) rounds(t *testing.T, r *Runner) {
	t.Helper()
	for n := 0; ; n++ {
		more, err := r.Round(t.Context())
		if err != nil || n > 1000 {
			t.Fatalf("round %d: %v", n, err)
		}
		if !more {
			return
		}
	}
}

// round is one round of r, after which everything was looked at that came in time.
func (f *fixture) round(t *testing.T, r *Runner) {
	t.Helper()
	if _, err := r.Round(t.Context()); err != nil || !r.Reached().Equal(f.now) {
		t.Fatalf("reached %s of %s: %v", r.Reached().Sub(noon), f.now.Sub(noon), err)
	}
}

// asAnew holds the visits against those that a start would make.
func (f *fixture) asAnew(t *testing.T) {
	t.Helper()
	got := brief(f.visits(t))
	f.until(t)
	if want := brief(f.visits(t)); got != want {
		t.Fatalf("live:\n%s\nafter a start:\n%s", got, want)
	}
}

// What devices and people say of settled weights and tags comes in any order, one at a
// time or together, a part of it later than its successors, and while the history is
// made anew for what came before: each is counted once, and the visits are those that a
// start would make.
func TestRunner_Round_OvertakenReadingsCountOnce(t *testing.T) {
	h := house()
	h.Cats[0].WeightKg, h.Cats[1].WeightKg = 4.1, 4.3 // so near that each weighing moves the names
	h.Cats[0].Chip = "900000000000001"
	chip, err := home.ChipNumber(h.Cats[0].Chip)
	if err != nil {
		t.Fatal(err)
	}
	for seed := range uint64(4) {
		rnd := rand.New(rand.NewPCG(seed, 11))
		f := newFixture(t, noon)
		if err := f.db.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
		r := f.running()
		r.rest, r.slice = 0, 1+rnd.IntN(20)
		f.rounds(t, r)
		for range 6 {
			var said []home.Reading
			for i := range 10 {
				at := f.now.Sub(noon) - time.Duration(rnd.IntN(240))*time.Second
				if rnd.IntN(5) == 0 {
					at -= time.Duration(rnd.IntN(300)) * time.Minute
				}
				kg := 4.1 + 0.2*float64(rnd.IntN(2)) + 0.01*float64(rnd.IntN(9))
				by := settledAt("box-1", at, kg)
				switch i {
				case 0:
					by = home.Reading{Source: "box-1", Quantity: home.Tag, Time: noon.Add(at), Value: chip, Clock: home.ByDevice}
				case 1, 2, 3, 4, 5:
					by = home.Reading{Source: home.Hand, Quantity: home.Weight, Time: noon.Add(at), Value: kg, Clock: home.ByHand, Cat: h.Cats[rnd.IntN(2)].ID}
				}
				by.Arrived = f.now
				said = append(said, by)
			}
			rnd.Shuffle(len(said), func(i, j int) { said[i], said[j] = said[j], said[i] })
			for part := range slices.Chunk(said, 2+rnd.IntN(3)) {
				f.append(t, part...)
				f.round(t, r)
			}
			f.now = f.now.Add(3 * time.Hour)
			f.rounds(t, r)
			f.asAnew(t)
		}
		if n := len(f.visits(t)); n < 15 {
			t.Fatalf("%d visits prove nothing", n)
		}
	}
}

// walks counts how often the whole history is read, and what that costs.
type walks struct {
	*store.DB
	n       int
	machine time.Time // its clock, which stands still but for the reading of the history
	begins  func()
}

func (w *walks) stopwatch() time.Time { return w.machine }

func (w *walks) EachReading(ctx context.Context, f func(home.Reading) error) (int64, error) {
	w.n++
	if w.begins != nil {
		w.begins()
	}
	return w.DB.EachReading(ctx, func(r home.Reading) error {
		w.machine = w.machine.Add(100 * time.Millisecond)
		return f(r)
	})
}

// A scale that sends out of order all the time holds nothing up: after each round all was
// looked at that came in time, the visits on another scale are named when they would be,
// and however long it takes to make the history anew, nine tenths of the time are free.
func TestRunner_Round_LateHoldsNothingUp(t *testing.T) {
	f := newFixture(t, noon)
	w := &walks{DB: f.db, machine: noon}
	r := f.runningOver(w)
	r.slice, r.stopwatch = 40, w.stopwatch
	f.rounds(t, r)
	good := stay("box-2", noon.Add(time.Minute))
	good = append(good, stay("box-2", noon.Add(time.Hour))...)
	named, behind, made, spent := 0, 0, r.made, time.Duration(0)
	for f.now.Before(noon.Add(2 * time.Hour)) {
		f.now = f.now.Add(20 * time.Second)
		w.machine = w.machine.Add(10 * time.Second)
		n := slices.IndexFunc(good, func(r home.Reading) bool { return r.Time.After(f.now) })
		if n < 0 {
			n = len(good)
		}
		f.append(t, append(slices.Clone(good[:n]), empty(f.now, f.now), empty(f.now.Add(-50*time.Second), f.now))...)
		good = good[n:]
		f.round(t, r)
		end, err := f.db.JournalEnd(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if r.Position() < end {
			behind++
		}
		if !r.made.Equal(made) {
			made, spent = r.made, spent+r.took
		}
		if f.now.Equal(noon.Add(30*time.Minute)) || f.now.Equal(noon.Add(90*time.Minute)) {
			named++
			if got := len(f.visits(t)); got != named {
				t.Errorf("%d visits of %d after %s", got, named, f.now.Sub(noon))
			}
		}
	}
	if behind < 300 {
		t.Errorf("only in %d of 360 rounds was it seen that something came late", behind)
	}
	if passed := w.machine.Sub(noon); spent == 0 || spent > passed/10+r.took {
		t.Errorf("made anew %d times, which took %s of %s", w.n, spent, passed)
	}
	r.rest = 0
	f.rounds(t, r)
	f.asAnew(t)
}

func empty(at, arrived time.Time) home.Reading {
	return home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Arrived: arrived, Value: 5, Clock: home.ByDevice}
}

// What comes while a history is begun, and what even a start would find out of order, is
// not late: the history is made once.
func TestRunner_Round_MadeOnce(t *testing.T) {
	for _, until := range []int{
		1800, // the empty scale tells that the long stay is over
		905,  // only time does
	} {
		f := newFixture(t, noon.Add(4*time.Hour))
		said := stay("box-2", noon.Add(5*time.Minute))
		for s := range until { // a long stay on the other box, which begins before
			at := noon.Add(time.Duration(s) * 3 * time.Second)
			r := empty(at, at)
			if s > 20 && s < 900 {
				r.Value = 9 + 0.05*float64(s%3)
			}
			said = append(said, r)
		}
		f.append(t, said...)
		w := &walks{DB: f.db}
		if until == 1800 {
			w.begins = func() { f.append(t, empty(f.now, f.now), empty(f.now.Add(-time.Second), f.now)) }
		}
		r := f.runningOver(w)
		r.slice, r.stopwatch = 400, w.stopwatch
		f.rounds(t, r)
		if r.owed || w.n != 1 {
			t.Errorf("made %d times, and again: %v", w.n, r.owed)
		}
		if got := f.visits(t); len(got) != 2 || !got[0].End.After(got[1].End) {
			t.Errorf("nothing is proved by these:\n%s", brief(got))
		}
	}
}
