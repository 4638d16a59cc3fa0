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

// A meal must be known to well under a gram on a scale that shows tenths, each
// one found and none made up, and no refill taken for one.
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
		f := playBowl(row.kind, row.cat, 20, 7300)
		if f.meals < 150 || f.found < f.meals*98/100 || f.untrue > f.reported/100 || f.refilled < f.refills*95/100 {
			t.Errorf("%s: meals %d of %d, untrue %d of %d, refills %d of %d", row.name, f.found, f.meals, f.untrue, f.reported, f.refilled, f.refills)
		}
		if quantile(f.off, .5) > 0.3 || quantile(f.off, .95) > 1 {
			t.Errorf("%s: error of a meal %.2f g, 95 %% %.2f g", row.name, quantile(f.off, .5), quantile(f.off, .95))
		}
		if row.cat > 0 && (f.cats < 150 || f.weighed < f.cats*98/100 || quantile(f.mass, .95) > 8) {
			t.Errorf("%s: weighed %d of %d, error 95 %% %.1f g", row.name, f.weighed, f.cats, quantile(f.mass, .95))
		}
	}
}

// eating is a cat whose head presses 60 g by turns while g grams go.
func eating(seconds, g float64) []piece {
	var out []piece
	for i := range int(seconds) {
		was, is := -g*float64(i)/seconds, -g*float64(i+1)/seconds
		out = append(out, piece{1, was + 60, is + 60, 15})
	}
	return out
}

func TestTracker_Step_KnownMeals(t *testing.T) {
	after := func(g float64) piece { return still(300, g, 0.2) }
	quiet := func(in []loadSample) []loadSample { // the empty scale of trace sways by 1 g; a bowl's by a fifth
		return with(in, func(s, g float64) float64 {
			if s < 600 {
				return 6000 + (g-6000)*0.2
			}
			return g
		})
	}
	for _, row := range []struct {
		name string
		kind home.Kind
		in   []piece
		want []answer
	}{
		// Twelve grams in forty seconds.
		{"a meal", home.Feeder, append(eating(40, 12), after(-12)), []answer{{home.Meal, 0, 0, -12, 0.2, "", 40, 2}}},
		// It looks up for ten seconds in the middle: one meal.
		{"a meal with a pause", home.Feeder, join(eating(20, 6), []piece{still(10, -6, 0.2)}, shift(eating(20, 6), -6), []piece{after(-12)}),
			[]answer{{home.Meal, 0, 0, -12, 0.2, "", 50, 2}}},
		// Twenty millilitres of water.
		{"a drink", home.Water, append(eating(60, 20), after(-20)), []answer{{home.Drink, 0, 0, -20, 0.2, "", 60, 2}}},
		// A nose in the bowl that takes nothing.
		{"a nose", home.Feeder, []piece{still(4, 60, 15), after(0)}, []answer{{home.Knocked, 0, 0, 0, 0.2, "", 4, 1}}},
		// Eighty grams poured in.
		{"poured in", home.Feeder, []piece{ramp(4, 0, 80), after(80)}, []answer{{home.ToppedUp, 0, 0, 80, 0.2, "", 4, 2}}},
		// The bowl of 400 g is off for a minute and comes back fuller.
		{"a bowl refilled", home.Water, []piece{still(60, -400, 1), after(150)}, []answer{{home.ToppedUp, 0, 0, 150, 0.2, "", 60, 2}}},
		// The bowl comes back emptier: that was no meal.
		{"a bowl emptied", home.Feeder, []piece{still(60, -400, 1), after(-30)}, []answer{{home.Scooped, 0, 0, -30, 0.2, "", 60, 2}}},
		// The cat of 4 kg stands on the scale and eats 9 g: it is weighed, and the meal is told.
		{"a cat on its scale", home.Feeder, []piece{ramp(0.5, 0, 4000), still(50, 4000, 30), ramp(0.5, 4000, -9), after(-9)},
			[]answer{{home.CatVisit, 4000, 3, none, 0, "", 51, 2}, {home.Meal, 0, 0, -9, 0.3, "", 51, 2}}},
	} {
		check(t, row.name, follow(row.kind, quiet(trace(5, row.in...))), row.want...)
	}
}
