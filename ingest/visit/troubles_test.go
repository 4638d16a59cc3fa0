package visit_test

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
)

// Each trouble by name, in a trace whose answer follows by hand.
func TestTracker_Step_KnownAnswers(t *testing.T) {
	for _, row := range []struct {
		name string
		in   []loadSample
		want []answer
	}{
		// The plain case: 4.5 kg came and left 32 g, by the load before and after.
		{"one cat", trace(5, cat(4500, 32)...), []answer{{home.CatVisit, 4500, 3, 32, 1, "", 43.2, 1}}},
		// Front paws stay 3 s at 45 % before the rest follows: the mass is the whole cat's.
		{"stepping on in two parts", trace(5, still(3, 2025, 20), still(30, 4500, 25), still(2, 2200, 20), still(400, 0, 1)),
			[]answer{{home.CatVisit, 4500, 3, 0, 1, "", 35, 1}}},
		// Digging throws the load by 15 % to and fro for 8 s; its mean is the mass.
		{"digging", trace(5, still(15, 4500, 20), still(8, 4500, 675), still(15, 4500, 20), still(400, 28, 1)),
			[]answer{{home.CatVisit, 4500, 4, 28, 1, "", 38, 1}}},
		// Turning: half a step out of the box now and then takes a fifth of the weight off for 2 s.
		{"turning", trace(5, still(12, 4500, 20), still(2, 3600, 40), still(12, 4500, 20), still(2, 3600, 40), still(12, 4500, 20), still(400, 0, 1)),
			[]answer{{home.CatVisit, 4500, 5, 0, 1, "", 40, 1}}},
		// Jumping out: the push doubles the load, then the box rings below nought.
		{"jumping out", trace(10, still(25, 4500, 20), still(0.3, 9000, 0), still(0.2, -400, 0), still(400, 25, 1)),
			[]answer{{home.CatVisit, 4500, 3, 25, 1, "", 25.5, 1}}},
		// Front paws only, 6 s at 40 %: no weighing.
		{"front paws", trace(5, ramp(0.4, 0, 1800), still(6, 1800, 150), ramp(0.4, 1800, 0), still(400, 0, 1)),
			[]answer{{home.Look, 0, 0, none, 0, "", 6.8, 1}}},
		// A paw from outside: 200 g on and off.
		{"a paw from outside", trace(5, still(1, 200, 0), still(1, 60, 0), still(1, 230, 0), still(400, 0, 1)),
			[]answer{{home.Knocked, 0, 0, none, 0, "", 3, 1}}},
		// A knock that rings out within a second.
		{"a knock", trace(10, still(0.2, 2500, 0), still(0.2, -1800, 0), still(0.2, 700, 0), still(400, 0, 1)),
			[]answer{{home.Knocked, 0, 0, none, 0, "", 0.6, 0.5}}},
		// Two cats in turn, the second in as the first is out. Together they left 60 g; who
		// left what is not known, so the second's mass is known to half of that.
		{"two cats in turn", trace(5, still(30, 4500, 20), still(0.6, 1500, 0), still(30, 3560, 20), still(400, 60, 1)),
			[]answer{{home.CatVisit, 4500, 4, none, 0, "", 30, 2}, {home.CatVisit, 3530, 4, none, 0, "", 30, 2}}},
		// The same with a second of empty box between: what each left is measured.
		{"two cats and a gap", trace(10, still(30, 4500, 20), still(1.5, 25, 1), still(30, 3525, 20), still(400, 60, 1)),
			[]answer{{home.CatVisit, 4500, 4, 25, 3, "", 30, 1}, {home.CatVisit, 3500, 4, 35, 3, "", 30, 1}}},
		// One joins the other, and the first leaves: each is weighed while alone. The second's
		// mass is known to half of what both left.
		{"two at once", trace(5, still(15, 4500, 20), still(20, 8000, 30), still(12, 3515, 20), still(400, 30, 1)),
			[]answer{{home.CatVisit, 4500, 5, none, 0, "several", 35, 1}, {home.CatVisit, 3500, 5, none, 0, "several", 32, 1}}},
		// Both come and go together: nobody is weighed.
		{"two together", trace(5, still(1, 4500, 20), still(20, 14000, 30), still(1, 3500, 20), still(400, 30, 1)),
			[]answer{{home.Several, 0, 0, 30, 1, "", 22, 1}}},
		// Hands press 2 to 5 kg by turns, and 120 g are gone.
		{"scooping", trace(5, still(4, 2000, 400), still(3, 5000, 900), still(4, 3000, 500), still(5, -60, 20), still(4, 2500, 600), still(400, -120, 1)),
			[]answer{{home.Scooped, 0, 0, -120, 1, "", 20, 2}}},
		// Litter poured in: 800 g more.
		{"topping up", trace(5, ramp(6, 0, 800), still(700, 800, 1)), []answer{{home.ToppedUp, 0, 0, 800, 1, "", 6, 2}}},
		// A person leans in with a wavering push and changes nothing: no cat.
		{"hands leaning in", trace(5, still(2, 2500, 300), still(2, 4200, 300), still(2, 3100, 300), still(2, 5200, 300), still(2, 3600, 300), still(2, 2100, 300), still(2, 4700, 300), still(2, 2900, 300), still(400, 0, 1)),
			[]answer{{home.Knocked, 0, 0, none, 0, "hands", 16, 1}}},
		// The lid, 700 g, is lifted for a minute and put back.
		{"a lid lifted", trace(5, still(60, -700, 2), still(400, 0, 1)), []answer{{home.Knocked, 0, 0, 0, 1, "lid", 60, 2}}},
		// The box is off for two minutes and comes back 300 g heavier; the next cat is weighed on the new zero.
		{"a box changed", trace(5, join([]piece{still(120, -6000, 1), still(600, 300, 1)}, shift(cat(4500, 20), 300))...),
			[]answer{{home.Moved, 0, 0, 300, 1, "", 120, 2}, {home.CatVisit, 4500, 3, 20, 1, "", 43, 2}}},
		// The cell warms by 30 g an hour: before and after are compared at one time.
		{"drift", with(trace(5, cat(4500, 30)...), func(s, g float64) float64 { return g + 30*s/3600 }),
			[]answer{{home.CatVisit, 4500, 3, 30, 1.5, "", 43, 2}}},
		// A cat sleeps in the box for an hour: one visit.
		{"an hour asleep", trace(2, still(3600, 4500, 12), still(400, 0, 1)), []answer{{home.CatVisit, 4500, 3, 0, 2, "", 3600, 3}}},
		// Eighty samples a second.
		{"80 Hz", trace(80, cat(4500, 32)...), []answer{{home.CatVisit, 4500, 3, 32, 1, "", 43.2, 1}}},
		// Never still: 4 % all the time, mean nought.
		{"never still", trace(5, still(40, 4500, 180), still(400, 30, 1)), []answer{{home.CatVisit, 4500, 6, 30, 1, "", 40, 1}}},
		// A minute between two samples with a step of 500 g in it: somebody put something in, unseen.
		{"a step unseen", without(trace(5, still(60, 0, 1), still(600, 500, 1)), 605, 665), []answer{{home.ToppedUp, 0, 0, 500, 1, "", 0, 0}}},
	} {
		check(t, row.name, follow(home.LitterBox, row.in), row.want...)
	}
}

// shift moves pieces up by g.
func shift(in []piece, g float64) []piece {
	for i := range in {
		in[i].from += g
		in[i].to += g
	}
	return in
}

// What the electronics do to a known trace.
func TestTracker_Step_KnownFaults(t *testing.T) {
	plain := trace(5, cat(4500, 32)...)
	alternate := func(period float64) func(s, g float64) float64 { // rounding with a dither that averages out
		return func(s, g float64) float64 { return math.Round(g/period) * period }
	}
	for _, row := range []struct {
		name string
		in   []loadSample
		want answer
	}{
		// Twelve seconds in the middle of the visit were never sent.
		{"a dropout", without(plain, 610, 622), answer{home.CatVisit, 4500, 3, 32, 1, "dropout", 43.2, 1}},
		// Lone samples 9 kg off, one of them on the empty scale.
		{"spikes", with(plain, spikes(300.2, 612, 615, 618, 625, 630)), answer{home.CatVisit, 4500, 3, 32, 1, "spikes", 43.2, 1}},
		// For 10 s the cell repeats one value that is 90 g off.
		{"a stuck cell", with(plain, func(s, g float64) float64 {
			if s >= 620 && s < 630 {
				return 10590
			}
			return g
		}), answer{home.CatVisit, 4500, 4, 32, 1, "stuck", 43.2, 1}},
		// The cell ends at 9 kg, 3 kg over the box: nothing was weighed.
		{"a saturated cell", with(plain, func(s, g float64) float64 { return math.Min(g, 9000) }), answer{home.Look, 0, 0, none, 0, "saturated", 43.2, 1}},
		// Steps of 50 g: half a step before, half during.
		{"50 g steps", with(plain, alternate(50)), answer{home.CatVisit, 4500, 30, 50, 40, "", 43.2, 1}},
		// The clock of the device is uneven: samples come up to 0.15 s early or late.
		{"an uneven clock", uneven(plain), answer{home.CatVisit, 4500, 4, 32, 1, "", 43.2, 1}},
		// Steps of 5 g.
		{"5 g steps", with(plain, alternate(5)), answer{home.CatVisit, 4500, 6, 30, 5, "", 43.2, 1}},
		// The load creeps up by 5 g with a memory of 2 minutes and back again.
		{"creep", creeping(plain, 5, 120), answer{home.CatVisit, 4500, 6, 32, 1.5, "", 43.2, 1}},
	} {
		check(t, row.name, follow(home.LitterBox, row.in), row.want)
	}
}

// A scale that sends only changes of 25 g, and a heartbeat every five minutes,
// weighs a lively cat well and a calm one to about half its dead band. Its ways
// are learned from the first visits.
func TestTracker_Step_OnChange(t *testing.T) {
	var pieces []piece
	for i := range 6 {
		p := cat(4500, 20)
		p[len(p)-1].last = 900
		for j := range p {
			p[j].sway *= 3
			p[j].from += 20 * float64(i)
			p[j].to += 20 * float64(i)
		}
		p[len(p)-1].sway = 1
		pieces = append(pieces, p...)
	}
	got := follow(home.LitterBox, onChange(trace(10, pieces...), 25, 300))
	if len(got) != 6 {
		t.Fatalf("%d events, want 6 visits: %+v", len(got), got)
	}
	for i, v := range got[1:] {
		if v.Event != home.CatVisit || math.Abs(v.MassKg-4.5) > 0.02 || !v.HasLeft || math.Abs(v.LeftG-20) > 5 {
			t.Errorf("visit %d: %+v, want 4.5 kg and 20 g left", i+1, v)
		}
	}
}

// A cat that stands like a statue on such a scale is one value, between a few on the
// way in and out: it is a visit, and known to about half the dead band.
func TestTracker_Step_OnChange_StandsStill(t *testing.T) {
	var pieces []piece
	for i := range 6 {
		pieces = append(pieces, shift(cat(4500, 20), 20*float64(i))...)
	}
	quiet := shift([]piece{still(0.9, 1600, 0), still(50, 3600, 5), still(0.9, 1700, 0), still(900, 0, 1)}, 120)
	got := follow(home.LitterBox, onChange(trace(10, append(pieces, quiet...)...), 25, 300))
	if len(got) != 7 {
		t.Fatalf("%d events, want 7 visits: %+v", len(got), got)
	}
	if v := got[6]; v.Event != home.CatVisit || math.Abs(v.MassKg-3.6) > 0.025 {
		t.Errorf("the one that stands still: %+v, want 3.6 kg", v)
	}
}

func spikes(at ...float64) func(s, g float64) float64 {
	return func(s, g float64) float64 {
		for _, a := range at {
			if math.Abs(s-a) < 0.05 {
				return g + 9000
			}
		}
		return g
	}
}

// creeping adds a creep of up to g grams under a cat, with a memory of tau s.
func creeping(in []loadSample, g, tau float64) []loadSample {
	c, last := 0.0, 0.0
	return with(in, func(s, load float64) float64 {
		aim := 0.0
		if load > 8000 {
			aim = g
		}
		c += (aim - c) * (1 - math.Exp(-(s-last)/tau))
		last = s
		return load + c
	})
}

// A house with one cat of 3.2 kg gets another of 6.8 kg. Its first visits could be
// two at once; when they come again and again at one mass they are one cat.
func TestTracker_Step_HeavyNewcomer_IsLearned(t *testing.T) {
	var pieces []piece
	for range 12 {
		pieces = append(pieces, cat(3200, 0)...)
	}
	for range 5 {
		pieces = append(pieces, cat(6800, 0)...)
	}
	got := follow(home.LitterBox, trace(5, pieces...))
	if len(got) != 17 {
		t.Fatalf("%d events, want 17", len(got))
	}
	for i, v := range got {
		want := 3.2
		if i >= 12 {
			want = 6.8
		}
		if i != 12 && i != 13 && (v.Event != home.CatVisit || math.Abs(v.MassKg-want) > 0.01) {
			t.Errorf("visit %d is %q of %.3f kg, want %.1f", i, v.Event, v.MassKg, want)
		}
	}
}

// A house with one cat of 3.2 kg gets another of 5 kg: weighed from the first day.
func TestTracker_Step_Newcomer_IsWeighed(t *testing.T) {
	var pieces []piece
	for range 12 {
		pieces = append(pieces, cat(3200, 0)...)
	}
	got := follow(home.LitterBox, trace(5, append(pieces, cat(5000, 20)...)...))
	if v := got[len(got)-1]; v.Event != home.CatVisit || math.Abs(v.MassKg-5) > 0.01 {
		t.Errorf("the newcomer: %+v", v)
	}
}

// A day of slow drift and evaporation, and nothing happens: nothing is told.
func TestTracker_Step_DriftAlone_Nothing(t *testing.T) {
	in := with(trace(1, still(86400, 0, 2)), func(s, g float64) float64 {
		return g + 40*math.Sin(2*math.Pi*s/86400) - 3*s/3600
	})
	check(t, "drift alone", follow(home.LitterBox, in))
}

// Heartbeats alone show what was put in or taken out.
func TestTracker_Step_HeartbeatsAlone_Steps(t *testing.T) {
	in := trace(1.0/60, still(3600, 0, 1), still(3600, -150, 1), still(3600, 650, 1))
	check(t, "heartbeats alone", follow(home.LitterBox, in),
		answer{event: home.Scooped, left: -150, leftOff: 2}, answer{event: home.ToppedUp, left: 800, leftOff: 2})
}

// The first thing a tracker sees is a cat: it learns the empty scale when it leaves.
func TestTracker_Step_StartsOccupied_Recovers(t *testing.T) {
	in := trace(5, append([]piece{still(60, 0, 1)}, cat(4500, 32)...)...)
	occupied := with(in, func(s, g float64) float64 {
		if s < 300 {
			return g + 3900 // somebody is in there from before the start
		}
		return g
	})
	got := follow(home.LitterBox, occupied)
	if n := len(got); n == 0 || got[n-1].Event != home.CatVisit || math.Abs(got[n-1].MassKg-4.5) > 0.003 {
		t.Errorf("the visit after it: %+v", got)
	}
}

// uneven moves each sample in time, by less than lets two change places.
func uneven(in []loadSample) []loadSample {
	out := make([]loadSample, len(in))
	for i, l := range in {
		out[i] = loadSample{l.at.Add(time.Duration(150*math.Sin(float64(i*i))) * time.Millisecond), l.kg}
		if i > 0 && !out[i].at.After(out[i-1].at) {
			out[i].at = out[i-1].at.Add(time.Millisecond)
		}
	}
	return out
}
