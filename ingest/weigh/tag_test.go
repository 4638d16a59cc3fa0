package weigh

import (
	"testing"
	"time"

	"weighbeam/home"
)

// chipped is the house with two cats that no weight can tell apart, and chips.
func chipped() home.Household {
	h := house()
	h.Cats[0].WeightKg, h.Cats[0].Chip = 4.5, "985112004567890"
	h.Cats[1].WeightKg, h.Cats[1].Chip = 4.5, "276098100123456"
	return h
}

func tagAt(source string, after time.Duration, chip float64) home.Reading {
	return home.Reading{Source: source, Quantity: home.Tag, Time: noon.Add(after), Value: chip, Clock: home.ByDevice}
}

// A tag read beside the scale within half a minute of a visit names it, in any
// batches; one on another scale, long before, or of no cat of the house does not.
func TestWeigher_Release_TagNamesTheVisit(t *testing.T) {
	readings := []home.Reading{
		tagAt("box-1", -20*time.Second, 985112004567890), settledAt("box-1", 0, 4.5),
		settledAt("box-2", time.Hour, 4.5), tagAt("box-2", time.Hour+20*time.Second, 276098100123456),
		tagAt("box-1", 3*time.Hour, 985112004567890), settledAt("box-2", 3*time.Hour, 4.5),
		tagAt("box-1", 5*time.Hour-time.Minute, 985112004567890), settledAt("box-1", 5*time.Hour, 4.5),
		tagAt("box-1", 7*time.Hour, 999000000000001), settledAt("box-1", 7*time.Hour, 4.5),
	}
	want := []string{"juniper", "moss", "", "", ""}
	for _, stepwise := range []bool{true, false} {
		w := New(chipped(), nil, nil)
		names := map[time.Duration]home.Visit{}
		put := func(visits []home.Visit) {
			for _, v := range visits {
				names[v.Start.Sub(noon)] = v
			}
		}
		for _, r := range readings {
			w.Step(r)
			if stepwise {
				put(w.Release(r.Time))
			}
		}
		put(w.Release(noon.AddDate(0, 0, 1)))
		for i, at := range []time.Duration{0, time.Hour, 3 * time.Hour, 5 * time.Hour, 7 * time.Hour} {
			v := names[at]
			if said := v.Whose == home.Said; want[i] != "" && (v.Cat != want[i] || !said || v.Confidence != 1) || want[i] == "" && said {
				t.Errorf("stepwise %v, the visit at %v is %q (%s), want %q", stepwise, at, v.Cat, v.Whose, want[i])
			}
		}
	}
}

// A tag that comes late, as from a reader that was offline, is not lost: everything
// is made again.
func TestRunner_Run_TagThatComesLate(t *testing.T) {
	f := newFixture(t, noon.AddDate(0, 0, 1))
	if err := f.db.SetHousehold(t.Context(), chipped()); err != nil {
		t.Fatal(err)
	}
	f.append(t, settledAt("box-1", 0, 4.5))
	f.until(t)
	f.append(t, tagAt("box-1", 10*time.Second, 276098100123456))
	f.until(t)
	if v := f.visits(t); len(v) != 1 || v[0].Cat != "moss" || v[0].Whose != home.Said {
		t.Errorf("got %+v", v)
	}
}
