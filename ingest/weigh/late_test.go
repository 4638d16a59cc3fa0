package weigh

import (
	"io"
	"log/slog"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
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
// time or together, and a part of it later than its successors: each is counted once,
// and the visits are those that a start would make.
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
		f.rounds(t, r)
		for range 6 {
			var said []home.Reading
			for i := range 10 {
				at := f.now.Sub(noon) - time.Duration(rnd.IntN(240))*time.Second
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
				f.rounds(t, r)
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
