package simulator_test

import (
	"flag"
	"iter"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"

	"pgregory.net/rapid"
)

// Houses are large: a dozen of each property in a normal run, more with
// -rapid.checks.
func init() {
	if err := flag.Set("rapid.checks", "12"); err != nil {
		panic(err)
	}
}

// anyOptions draws a house of a few days with any cats, scales and faults, on
// days that may have 23, 24 or 25 hours.
func anyOptions(t *rapid.T) simulator.Options {
	loc, err := time.LoadLocation(rapid.SampledFrom([]string{"UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe"}).Draw(t, "location"))
	if err != nil {
		t.Fatal(err)
	}
	return simulator.Options{
		Seed:    rapid.Uint64().Draw(t, "seed"),
		Start:   time.Date(2025, time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 31).Draw(t, "day"), 0, 0, 0, 0, loc),
		Days:    rapid.IntRange(1, 6).Draw(t, "days"),
		Cats:    rapid.IntRange(1, 5).Draw(t, "cats"),
		Scales:  rapid.IntRange(1, 3).Draw(t, "scales"),
		Feeders: rapid.IntRange(0, 2).Draw(t, "feeders"),
		Waters:  rapid.IntRange(0, 1).Draw(t, "waters"),
		Devices: simulator.Devices()[rapid.IntRange(0, 3).Draw(t, "device"):],
		Faults:  simulator.Fault(rapid.Uint32Range(0, uint32(simulator.AllFaults)).Draw(t, "faults")),
	}
}

func anyHouse(t *rapid.T, times int) *simulator.House {
	o := anyOptions(t)
	o.Days *= times
	h, err := simulator.New(o)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// Whatever is sent can be stored, comes in time order and within the history.
func TestHouse_Readings_AreValidAndInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHouse(t, 1)
		for _, readings := range []iter.Seq[home.Reading]{h.Settled(), h.Load()} {
			last, n := time.Time{}, 0
			for r := range readings {
				if n++; n > 25_000 {
					break // more of the same
				}
				// Load differs only in its value: to look at some will do.
				if r.Quantity != home.Load || n%50 == 0 {
					if err := r.Valid(); err != nil {
						t.Fatalf("%+v: %v", r, err)
					}
				}
				if r.Time.Before(last) || !r.Time.Before(h.End()) || r.Arrived.Before(r.Time) {
					t.Fatalf("%s after %s, arrived %s, the end is %s", r.Time, last, r.Arrived, h.End())
				}
				last = r.Time
			}
		}
	})
}

// The truth is in order, and no cat is in two places: visits to one box overlap
// only where a fault says so, visits of one cat never do.
func TestHouse_Truth_IsPossible(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		last := time.Time{}
		box, cat := map[string]simulator.Event{}, map[string]simulator.Event{}
		for e := range anyHouse(t, 60).Events() {
			if e.Start.Before(last) || e.End.Before(e.Start) {
				t.Fatalf("%+v begins before %s, or ends before it begins", e, last)
			}
			last = e.Start
			if e.Kind == simulator.Visit {
				if e.Start.Before(cat[e.Cat].End) && e.Cat != simulator.Guest {
					t.Fatalf("%s is in two boxes: %+v and %+v", e.Cat, cat[e.Cat], e)
				}
				if e.MassKg < 2 || e.MassKg > 10 || e.LeftG < -13 || e.LeftG > 220 {
					t.Fatalf("no cat is so: %+v", e)
				}
				cat[e.Cat] = e
			}
			if on := box[e.Source]; e.Kind != simulator.Silent && on.Kind != "" && e.Start.Before(on.End) && !e.Faults.Has(simulator.AtOnce) && !e.Faults.Has(simulator.InTurn) && e.Source != home.Hand && e.Source != home.Clinic {
				t.Fatalf("%+v and %+v are in one box", on, e)
			}
			if e.Source != "" && e.Kind != simulator.Silent && e.End.After(box[e.Source].End) {
				box[e.Source] = e
			}
		}
	})
}

// What is sent at a time does not depend on where reading begins, so that a
// demo can be stopped and started again.
func TestHouse_Live_DoesNotDependOnItsStart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := anyHouse(t, 1)
		first := h.End().Add(time.Duration(rapid.IntRange(-100, 100).Draw(t, "minutes")) * time.Minute)
		second := first.Add(time.Duration(rapid.IntRange(0, 72*60).Draw(t, "later")) * time.Minute)
		until := second.Add(3 * time.Hour)
		collect := func(from time.Time) (list []home.Reading) {
			for r := range h.Live(from) {
				if !r.Time.Before(until) {
					return list
				}
				if !r.Time.Before(second) {
					list = append(list, r)
				}
			}
			return list
		}
		if a, b := collect(first), collect(second); !slices.Equal(a, b) {
			t.Fatalf("%d readings from the one start, %d from the other, the first that differ: %+v", len(a), len(b), firstDifference(a, b))
		}
	})
}

func firstDifference(a, b []home.Reading) []home.Reading {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return []home.Reading{a[i], b[i]}
		}
	}
	return nil
}

// Switching on what only spoils the signal changes nothing of what happened.
func TestFault_OfTheSignal_LeavesTheTruth(t *testing.T) {
	signal := simulator.Thermal | simulator.Creep | simulator.ZeroDrift | simulator.Quantised | simulator.DeadBand
	rapid.Check(t, func(t *rapid.T) {
		o := anyOptions(t)
		var truth [2][]simulator.Event
		for i, f := range []simulator.Fault{o.Faults &^ signal, o.Faults | signal} {
			o.Faults = f
			h, err := simulator.New(o)
			if err != nil {
				t.Fatal(err)
			}
			truth[i] = h.Truth()
		}
		if !slices.Equal(truth[0], truth[1]) {
			t.Fatal("the truth changed")
		}
	})
}
