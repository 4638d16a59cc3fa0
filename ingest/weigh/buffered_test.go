package weigh

import (
	"io"
	"log/slog"
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// A scale that keeps its samples while the network is away and sends them later, and a
// house whose clock runs ahead for a while, end with the visits, masses and names of a
// house in which nothing of the kind happened, without starting again.
func TestRunner_Round_BufferedLoadTakesItsPlace(t *testing.T) {
	h, readings := lived(t)
	last := readings[len(readings)-1].Time
	finish := func(seed uint64) string {
		rng := rand.New(rand.NewPCG(seed, 0))
		f := newFixture(t, readings[0].Time)
		if err := f.db.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
		r := NewRunner(f.db, Options{Now: f.clock, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
		round := func() {
			t.Helper()
			for n := 0; n == 0 || r.Reached().Before(f.now); n++ {
				if _, err := r.Round(t.Context()); err != nil || n > 100 {
					t.Fatalf("round %d: %v", n, err)
				}
			}
		}
		away := map[string]time.Time{} // until when
		next := map[string]int{}
		bySource := map[string][]home.Reading{}
		for _, x := range readings {
			bySource[x.Source] = append(bySource[x.Source], x)
		}
		for now := readings[0].Time; now.Before(last.Add(6 * time.Hour)); now = now.Add(7 * time.Minute) {
			f.now = now
			if seed != 0 && rng.IntN(20) == 0 { // the clock is ahead, and set back
				f.now = now.Add(time.Duration(rng.IntN(90)) * time.Minute)
				round()
				f.now = now
			}
			var batch []home.Reading
			for _, s := range h.Scales {
				if seed != 0 && now.Before(last) && rng.IntN(12) == 0 {
					away[s.ID] = now.Add(time.Duration(rng.IntN(120)) * time.Minute)
				}
				if now.Before(away[s.ID]) {
					continue
				}
				all := bySource[s.ID]
				from := next[s.ID]
				for next[s.ID] < len(all) && !all[next[s.ID]].Time.After(now) {
					next[s.ID]++
				}
				batch = append(batch, all[from:next[s.ID]]...)
			}
			f.append(t, batch...)
			round()
		}
		return brief(f.visits(t))
	}
	want := finish(0)
	if len(want) < 1000 {
		t.Fatalf("next to nothing happened:\n%s", want)
	}
	for _, seed := range []uint64{4, 8} { // without care for such silences, these two go wrong
		if got := finish(seed); got != want {
			t.Errorf("seed %d:\n%s\n\nwant\n%s", seed, got, want)
		}
	}
}
