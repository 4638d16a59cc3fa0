package visit_test

import (
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// run steps through samples, calling before at each, on the tracker it returns.
func run(kind home.Kind, in []loadSample, before func(i int, tr *visit.Tracker) *visit.Tracker) []home.Visit {
	tr := visit.New(kind)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	for i, l := range in {
		tr = before(i, tr)
		tr.Step(l.at, l.kg, emit)
	}
	tr.Tick(in[len(in)-1].at.Add(time.Hour), emit)
	return got
}

func asIs(_ int, tr *visit.Tracker) *visit.Tracker { return tr }

func reborn(t rapid.TB, kind home.Kind, tr *visit.Tracker) *visit.Tracker {
	b, err := tr.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	next := visit.New(kind)
	if err := next.Restore(b); err != nil {
		t.Fatal(err)
	}
	return next
}

// Stopping and going on from a snapshot, at any samples of any device, changes
// nothing at all.
func TestTracker_Restore_AnySamples_ChangesNothing(t *testing.T) {
	var days [][]loadSample
	for i, c := range hardCells() {
		days = append(days, record(c, 2, 40+uint64(i)))
	}
	rapid.Check(t, func(t *rapid.T) {
		in := days[rapid.IntRange(0, len(days)-1).Draw(t, "device")]
		from := rapid.IntRange(0, len(in)-2).Draw(t, "from")
		in = in[from:min(from+600, len(in))]
		every := rapid.IntRange(7, 200).Draw(t, "every")
		want := run(home.LitterBox, in, asIs)
		got := run(home.LitterBox, in, func(i int, tr *visit.Tracker) *visit.Tracker {
			if i%every != 0 {
				return tr
			}
			return reborn(t, home.LitterBox, tr)
		})
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%d events with snapshots, %d without; the first that differs: %s", len(got), len(want), differs(got, want))
		}
	})
}

func differs(got, want []home.Visit) string {
	for i := range min(len(got), len(want)) {
		if !reflect.DeepEqual(got[i], want[i]) {
			return fmt.Sprintf("%+v, not %+v", got[i], want[i])
		}
	}
	return "one has more"
}

// The same at each single sample of one visit.
func TestTracker_Restore_EachSample_ChangesNothing(t *testing.T) {
	in := trace(5, cat(4500, 32)...)[2900:4000]
	want := run(home.LitterBox, in, asIs)
	got := run(home.LitterBox, in, func(_ int, tr *visit.Tracker) *visit.Tracker { return reborn(t, home.LitterBox, tr) })
	if len(want) != 1 || !reflect.DeepEqual(got, want) {
		t.Fatalf("with snapshots:\n%+v\nwithout:\n%+v", got, want)
	}
}

// How often a tracker is ticked changes nothing: a replay that ticks each hour
// gives what live running gave.
func TestTracker_Tick_AnyTimes_ChangesNothing(t *testing.T) {
	in := record(hardCells()[2], 1, 50)
	in = without(in, 30000, 40000) // a silence long enough to close things
	want := run(home.LitterBox, in, asIs)
	rapid.Check(t, func(t *rapid.T) {
		step := time.Duration(rapid.Int64Range(int64(5*time.Second), int64(2*time.Hour)).Draw(t, "step"))
		next := in[0].at
		var got []home.Visit
		emit := func(v home.Visit) { got = append(got, v) }
		tr := visit.New(home.LitterBox)
		for _, l := range in {
			for n := 0; !next.After(l.at) && n < 200; n++ {
				tr.Tick(next, emit)
				next = next.Add(step)
			}
			next = maxTime(next, l.at)
			tr.Step(l.at, l.kg, emit)
		}
		tr.Tick(in[len(in)-1].at.Add(time.Hour), emit)
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("%d events, want %d", len(got), len(want))
		}
	})
}

func maxTime(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func TestTracker_Restore_Unusable_SaysWhy(t *testing.T) {
	good, err := visit.New(home.LitterBox).Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string]string{
		"empty":         "",
		"other version": strings.Replace(string(good), `"Version":1`, `"Version":99`, 1),
		"other kind":    strings.Replace(string(good), `"litter-box"`, `"feeder"`, 1),
		"bad mode":      strings.Replace(string(good), `"Mode":0`, `"Mode":9`, 1),
		"bad noise":     strings.Replace(string(good), `"Noise":3`, `"Noise":-1`, 1),
		"bad frame":     strings.Replace(string(good), `"Of":[]`, `"Of":[{"Hold":-1}]`, 1),
	} {
		if err := visit.New(home.LitterBox).Restore([]byte(b)); err == nil || home.Hint(err) == "" {
			t.Errorf("%s: error %v has no hint", name, err)
		}
	}
}

// sound fails if v is no visit that could have been.
func sound(t testing.TB, v home.Visit) {
	t.Helper()
	finite := func(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
	switch {
	case v.End.Before(v.Start) || v.Start.Year() < 1970 || v.End.Year() > 2200:
		t.Fatalf("times out of order: %+v", v)
	case v.Event == home.CatVisit && (home.Weight.Gate(v.MassKg) != nil || !(v.SDKg > 0) || !finite(v.SDKg)):
		t.Fatalf("no cat weighs that: %+v", v)
	case v.Event != home.CatVisit && v.MassKg != 0:
		t.Fatalf("a mass without a visit: %+v", v)
	case !finite(v.LeftG) || !finite(v.LeftSDG) || v.LeftSDG < 0 || !(v.Quality >= 0 && v.Quality <= 1):
		t.Fatalf("not a number: %+v", v)
	}
}

// FuzzTracker_Step feeds arbitrary floats at arbitrary times: 16 bytes a sample.
func FuzzTracker_Step(f *testing.F) {
	seed := func(in []loadSample) {
		var b []byte
		for _, l := range in {
			b = binary.LittleEndian.AppendUint64(b, uint64(l.at.UnixNano()))
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(l.kg))
		}
		f.Add(b, byte(0))
	}
	seed(trace(2, cat(4500, 32)...)[1100:])
	seed([]loadSample{{stamp(0), math.NaN()}, {stamp(1), math.Inf(1)}, {stamp(-1e6), 5}, {time.Unix(-5, 0), 1}})
	f.Fuzz(func(t *testing.T, b []byte, k byte) {
		kind := []home.Kind{home.LitterBox, home.Feeder, home.Water, home.Floor}[k%4]
		tr := visit.New(kind)
		emit := func(v home.Visit) { sound(t, v) }
		for ; len(b) >= 16; b = b[16:] {
			at := time.Unix(0, int64(binary.LittleEndian.Uint64(b)))
			tr.Step(at, math.Float64frombits(binary.LittleEndian.Uint64(b[8:])), emit)
		}
		if _, err := tr.Snapshot(); err != nil {
			t.Fatal(err)
		}
		tr.Tick(time.Date(2199, 1, 1, 0, 0, 0, 0, time.UTC), emit)
	})
}

// The same with shapes that look more like a scale: steps of any size at any pace.
func TestTracker_Step_AnyLoads_SoundVisits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		kind := rapid.SampledFrom([]home.Kind{home.LitterBox, home.Feeder, home.Water, home.Floor}).Draw(rt, "kind")
		tr := visit.New(kind)
		emit := func(v home.Visit) { sound(t, v) }
		at := stamp(0)
		for range rapid.IntRange(1, 60).Draw(rt, "pieces") {
			n := rapid.IntRange(1, 80).Draw(rt, "samples")
			dt := time.Duration(rapid.Int64Range(-int64(time.Second), int64(time.Minute)).Draw(rt, "dt"))
			kg := rapid.Float64Range(-20, 40).Draw(rt, "kg")
			sway := rapid.Float64Range(0, 2).Draw(rt, "sway")
			for i := range n {
				at = at.Add(dt)
				tr.Step(at, kg+sway*math.Sin(float64(i*i)), emit)
			}
		}
		tr.Tick(at.Add(time.Hour), emit)
	})
}

// What a tracker holds does not grow with what it was fed.
func TestTracker_Snapshot_BoundedSize(t *testing.T) {
	tr := visit.New(home.LitterBox)
	most := 0
	for i := range 400_000 { // a load that never rests, for hours
		tr.Step(stamp(float64(i)/20), 6+4*math.Abs(math.Sin(float64(i)/7)), func(home.Visit) {})
		if i%10_000 == 0 {
			b, err := tr.Snapshot()
			if err != nil {
				t.Fatal(err)
			}
			most = max(most, len(b))
		}
	}
	if most > 128<<10 {
		t.Errorf("a snapshot of %d bytes", most)
	}
}

// FuzzTracker_Restore takes any bytes for a snapshot: refused, or good to go on from.
func FuzzTracker_Restore(f *testing.F) {
	tr := visit.New(home.LitterBox)
	for _, l := range trace(5, cat(4500, 32)...)[2900:3006] {
		tr.Step(l.at, l.kg, func(home.Visit) {})
	}
	b, err := tr.Snapshot()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"Version":1,"Kind":"litter-box","State":{"Mode":2,"Device":{"Noise":1,"Hold":1},"Stay":{"Len":1,"Of":[{"Hold":1}]}}}`))
	in := trace(5, cat(4500, 32)...)[3100:3400]
	f.Fuzz(func(t *testing.T, b []byte) {
		tr := visit.New(home.LitterBox)
		if tr.Restore(b) != nil {
			return
		}
		for _, l := range in {
			tr.Step(l.at, l.kg, func(home.Visit) {})
		}
		tr.Tick(in[len(in)-1].at.Add(time.Hour), func(home.Visit) {})
	})
}
