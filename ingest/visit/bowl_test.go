package visit_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// bowlFigures are how well a feeder's or water scale's days were understood.
type bowlFigures struct {
	meals, found, reported, untrue int
	refills, refilled              int
	cats, weighed                  int
	off, mass                      []float64
}

func playBowl(kind home.Kind, cat float64, days int, seed uint64) bowlFigures {
	r := rand.New(rand.NewPCG(seed, 5))
	h := &house{days: float64(days)}
	for d := range days {
		for _, f := range bowlDay(r, float64(d), kind == home.Water, cat) {
			h.add(f)
		}
	}
	soiled := 0.0
	h.settle(r, &soiled)
	c := cell{hz: 5, round: 0.1, beat: 60, tail: 15, wake: 3, noise: 0.25, thermal: 3, r: r}
	if kind == home.Water {
		c.thermal = 6 // and it dries out; see below
	}
	tr := visit.New(kind)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	c.send = func(at, g float64) {
		dry := 0.0
		if kind == home.Water {
			dry = at / 3600 // 1 g an hour
		}
		tr.Step(stamp(at), (g-dry)/1000, emit)
	}
	c.run(h.events, 400, h.days*86400)
	tr.Tick(stamp(h.days*86400+7200), emit)
	return scoreBowl(kind, h.truth, got)
}

func scoreBowl(kind home.Kind, all []truth, got []home.Visit) (f bowlFigures) {
	want := map[string]home.Event{"meal": home.Meal, "drink": home.Drink, "refill": home.ToppedUp, "visit": home.CatVisit}
	used := make([]bool, len(got))
	for _, tr := range all {
		hit := -1
		for i, v := range got {
			if !used[i] && v.Event == want[tr.kind] && overlap(tr, v) > 0.3*(tr.end-tr.start) {
				hit = i
			}
		}
		if hit >= 0 {
			used[hit] = true
		}
		switch {
		case tr.kind == "meal" || tr.kind == "drink":
			f.meals++
			if hit >= 0 {
				f.found++
				f.off = append(f.off, math.Abs(got[hit].LeftG-tr.left))
			}
		case tr.kind == "refill":
			f.refills++
			if hit >= 0 {
				f.refilled++
			}
		case tr.kind == "visit":
			f.cats++
			if hit >= 0 {
				f.weighed++
				f.mass = append(f.mass, math.Abs(got[hit].MassKg*1000-tr.mass))
			}
		}
	}
	for i, v := range got {
		if v.Event == home.Meal || v.Event == home.Drink || v.Event == home.CatVisit {
			f.reported++
			if !used[i] {
				f.untrue++
			}
		}
	}
	return f
}

func TestTracker_Bowls_Days(t *testing.T) {
	for _, row := range []struct {
		name string
		kind home.Kind
		cat  float64 // g, of a cat that stands on the scale; 0 where it stands beside
	}{
		// A bowl on a small scale: only the head leans on it.
		{"feeder", home.Feeder, 0},
		// Water is lapped, and dries out at 1 g an hour.
		{"water", home.Water, 0},
		// The cat stands on the scale of its bowl: a meal and a weighing.
		{"feeder that weighs the cat", home.Feeder, 4200},
	} {
		f := playBowl(row.kind, row.cat, 20, 900)
		t.Logf("%s: %+v found %d/%d untrue %d/%d refills %d/%d cats %d/%d off %.2f/%.2f g mass %.1f/%.1f", row.name, "", f.found, f.meals, f.untrue, f.reported, f.refilled, f.refills, f.weighed, f.cats,
			quantile(f.off, .5), quantile(f.off, .95), quantile(f.mass, .5), quantile(f.mass, .95))
	}
}
