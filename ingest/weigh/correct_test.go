package weigh

import (
	"math"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

// lived is some days of raw load of two boxes, and who lives there.
func lived(t *testing.T) (home.Household, []home.Reading) {
	t.Helper()
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	sim, err := simulator.New(simulator.Options{Seed: 9, Start: start, Days: 4, Cats: 2, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	return sim.Household(), slices.Collect(sim.Load())
}

// truth is a calibration with which a load of (kg+5)/gain weighs kg.
func truth(source string, from, made time.Time, gain float64) home.Calibration {
	return home.Calibration{Source: source, From: from, At: made, Gain: gain, GainSD: 0.002, OffsetKg: -5, LinearityKg: 0.004, ToKg: 5,
		Points: []home.KnownLoad{{Load: []float64{5 / gain}}, {Kg: 5, SDKg: 0.01, Load: []float64{10 / gain}}}}
}

// bent is readings as a box would send them that needs that calibration.
func bent(in []home.Reading, c home.Calibration) []home.Reading {
	out := slices.Clone(in)
	for i := range out {
		if r := &out[i]; r.Source == c.Source {
			r.Value = (r.Value + 5) / c.Gain
		}
	}
	return out
}

func visitsOf(h home.Household, in []home.Reading, cs ...home.Calibration) map[visitKey]home.Visit {
	w, out := New(h, nil, cs), map[visitKey]home.Visit{}
	put := func(visits []home.Visit) {
		for _, v := range visits {
			out[keyOf(v)] = v
		}
	}
	for _, r := range in {
		w.Step(r)
		put(w.Release(r.Time))
	}
	put(w.Release(in[len(in)-1].Time.Add(time.Hour)))
	return out
}

// A box whose cell is wrong by 8 % gives, from the date of its calibration on, the
// visits that a true one gives; the mass says how sure the calibration is. The
// days before stay 8 % too light, and the other box knows nothing of it. That
// the numbers change on that day is no event.
func TestWeigher_Step_CalibrationCorrectsFromItsDate(t *testing.T) {
	h, in := lived(t)
	from := in[0].Time.AddDate(0, 0, 3).Add(5 * time.Hour)
	c := truth(h.Scales[0].ID, from, from, 1.08)
	want, got := visitsOf(h, in), visitsOf(h, bent(in, c), c)
	weighed := 0
	for k, w := range want {
		g, ok := got[k]
		switch {
		case !ok || g.Event != w.Event:
			t.Errorf("%+v became %+v", w, g)
		case w.Source != c.Source:
			if w.MassKg != g.MassKg || g.Gain != 0 {
				t.Errorf("of the other box, %+v became %+v", w, g)
			}
		case w.Start.Before(from):
			if math.Abs(w.MassKg-1.08*g.MassKg) > 0.001 || g.Gain != 0 {
				t.Errorf("of the days before, %+v became %+v", w, g)
			}
		case w.Event == home.CatVisit:
			weighed++
			span := c.SpanSD(g.MassKg)
			if math.Abs(g.MassKg-w.MassKg) > 0.001 || g.Gain != 1.08 || math.Abs(g.SDKg-math.Hypot(w.SDKg, span)) > 0.0005 || span < 0.006 {
				t.Errorf("%+v became %+v", w, g)
			}
		}
	}
	for k, v := range got {
		if _, ok := want[k]; !ok {
			t.Errorf("an event of its own: %+v", v)
		}
	}
	if len(got) != len(want) || weighed < 3 {
		t.Errorf("%d visits became %d, %d of them weighed", len(want), len(got), weighed)
	}
}

// A device that sends one settled value a stay is corrected, too.
func TestWeigher_Step_CalibrationOfSettledValues(t *testing.T) {
	c := truth("box-1", home.Always, noon, 1.02)
	c.OffsetKg = 0.03
	w := New(house(), nil, []home.Calibration{c})
	w.Step(settledAt("box-1", 0, 4))
	w.Step(settledAt("box-2", time.Minute, 4))
	got := w.Release(noon.Add(time.Hour))
	if len(got) != 2 || math.Abs(got[0].MassKg-4.11) > 1e-12 || got[0].SDKg <= settledSD || got[1].MassKg != 4 || got[1].Gain != 0 {
		t.Errorf("got %+v", got)
	}
}

// Known masses that are put on to calibrate are no visit, and neither is the last
// one that stays on for a while; the cat that comes when it is gone is.
func TestWeigher_Step_KnownMassesAreNoVisit(t *testing.T) {
	var in []home.Reading
	at := noon
	hold := func(d time.Duration, kg float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(200 * time.Millisecond) {
			in = append(in, home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Value: 6 + kg + 0.001*float64(len(in)%2)})
		}
	}
	hold(10*time.Minute, 0)
	began := at
	hold(time.Minute, 0)
	hold(time.Minute, 4)
	ended := at.Add(-30 * time.Second)
	hold(90*time.Second, 4)
	hold(5*time.Minute, 0)
	hold(40*time.Second, 4.1)
	hold(10*time.Minute, 0)
	c := home.Calibration{Source: "box-1", At: ended, From: home.Always, Gain: 1, OffsetKg: -6, GainSD: 0.001, ToKg: 4, Points: []home.KnownLoad{
		{Load: []float64{6}, From: began, To: began.Add(30 * time.Second)}, {Kg: 4, Load: []float64{10}, From: ended.Add(-20 * time.Second), To: ended}}}
	if got := visitsOf(house(), in); len(got) != 2 {
		t.Fatalf("without being told: %+v, want two visits", got)
	}
	got := visitsOf(house(), in, c)
	for _, v := range got {
		if len(got) != 1 || math.Abs(v.MassKg-4.1) > 0.01 || v.Start.Before(ended) {
			t.Errorf("got %+v", got)
		}
	}
}

// A calibration that is given later remakes the visits from its date on, and only
// those; the readings stay as they came. What was made of load that is gone is
// made with it, too.
func TestRunner_Run_CalibrationRemakes(t *testing.T) {
	h, in := lived(t)
	made := in[len(in)-1].Time.Add(time.Hour)
	c := truth(h.Scales[0].ID, home.Always, made, 1.08)
	in = bent(in, c)
	finish := func(keep time.Duration) (*fixture, []home.Visit) {
		f := newFixture(t, made)
		if err := f.db.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
		f.keep = keep
		for part := range slices.Chunk(in, 5000) {
			f.append(t, part...)
		}
		f.until(t)
		if err := f.db.Calibrate(t.Context(), c); err != nil {
			t.Fatal(err)
		}
		f.until(t)
		return f, f.visits(t)
	}
	raw := visitsOf(h, in)
	whole, want := finish(0)
	_, trimmed := finish(24 * time.Hour)
	if len(want) != len(raw) || len(trimmed) != len(want) || len(want) < 15 {
		t.Fatalf("%d visits became %d, with old load gone %d", len(raw), len(want), len(trimmed))
	}
	for i, v := range want {
		g := trimmed[i]
		if g.Event != v.Event || math.Abs(g.MassKg-v.MassKg) > 0.002 || math.Abs(g.SDKg-v.SDKg) > 0.0005 || math.Abs(g.LeftG-v.LeftG) > 2 || g.Gain != v.Gain {
			t.Errorf("with old load gone %+v is %+v", v, g)
		}
		if was := raw[keyOf(v)]; v.Source != c.Source && was.MassKg != v.MassKg {
			t.Errorf("of another box, %+v became %+v", was, v)
		}
	}
	load, err := whole.db.Readings(t.Context(), c.Source, home.Load, time.Time{}, time.Time{})
	if err != nil || len(load) == 0 || load[0].Value != firstOf(in, c.Source).Value {
		t.Errorf("the readings were changed: %v", err)
	}
}

func firstOf(in []home.Reading, source string) home.Reading {
	return in[slices.IndexFunc(in, func(r home.Reading) bool { return r.Source == source })]
}
