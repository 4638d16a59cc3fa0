package simulator_test

import (
	"runtime"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

func TestNew_Options_AreRefusedWithAHint(t *testing.T) {
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	good := simulator.Options{Start: start, Days: 1, Cats: 1, Scales: 1}
	for name, spoil := range map[string]func(*simulator.Options){
		"no days":        func(o *simulator.Options) { o.Days = 0 },
		"a century":      func(o *simulator.Options) { o.Days = 366 * 100 },
		"no cats":        func(o *simulator.Options) { o.Cats = 0 },
		"too many cats":  func(o *simulator.Options) { o.Cats = simulator.MaxCats + 1 },
		"more unwell":    func(o *simulator.Options) { o.Unwell = 2 },
		"no scales":      func(o *simulator.Options) { o.Scales = 0 },
		"too many boxes": func(o *simulator.Options) { o.Scales = 99 },
		"ever failing":   func(o *simulator.Options) { o.Often = 11 },
		"no start":       func(o *simulator.Options) { o.Start = time.Time{} },
	} {
		o := good
		spoil(&o)
		if _, err := simulator.New(o); err == nil || home.Hint(err) == "" {
			t.Errorf("%s: %v, hint %q", name, err, home.Hint(err))
		}
	}
	good.Profiles = []simulator.Profile{{Cat: home.Cat{ID: "Not A Slug"}}}
	if _, err := simulator.New(good); err == nil {
		t.Error("a cat without a name was taken")
	}
}

func TestParseDevices_Names(t *testing.T) {
	for _, d := range simulator.Devices() {
		if got, err := simulator.ParseDevices(d.Name); err != nil || len(got) != 1 || got[0] != d {
			t.Errorf("%s is %+v, %v", d.Name, got, err)
		}
	}
	if got, err := simulator.ParseDevices("80hz, 5hz"); err != nil || len(got) != 2 || got[0].Hz != 80 || got[1].Hz != 5 {
		t.Errorf("two devices are %+v, %v", got, err)
	}
	if got, err := simulator.ParseDevices(""); err != nil || got != nil {
		t.Errorf("no device is %+v, %v", got, err)
	}
	_, err := simulator.ParseDevices("3hz")
	for _, d := range simulator.Devices() {
		if err == nil || !strings.Contains(err.Error(), d.Name) {
			t.Errorf("an unknown device says %v, without %s", err, d.Name)
		}
	}
}

// Unwell cats change in turn, each in the middle third of the history, at a pace
// that is in the truth.
func TestNew_Unwell_ChangeInTurn(t *testing.T) {
	for seed := range uint64(20) {
		h := house(t, simulator.Options{Seed: seed, Start: time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), Days: 300, Cats: 4, Unwell: 3, Scales: 2})
		signs := map[home.Sign]int{}
		for e := range h.Events() {
			if e.Kind == simulator.Onset {
				signs[e.Sign]++
				within(t, "day of the onset", e.Start.Sub(h.End()).Hours()/24+300, 100, 202)
				within(t, "pace", e.Pace, -2, 2)
			}
		}
		if signs[home.WeightFalling] != 2 || signs[home.BreathingRising] != 1 || len(signs) != 2 {
			t.Errorf("seed %d: %v", seed, signs)
		}
	}
}

// A change ends at its most, also one that goes up, and says which way it goes.
func TestProfile_Loss_EndsAndMayBeAGain(t *testing.T) {
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		pace   float64
		sign   home.Sign
		lo, hi float64 // of the last level against the first
	}{{4, home.WeightFalling, 0.89, 0.91}, {-4, home.WeightRising, 1.09, 1.11}} {
		p := simulator.Profile{
			Cat:       home.Cat{ID: "fern", Name: "Fern", WeightKg: 4},
			VisitsDay: 3, UrineGKgDay: 12, FaecesGDay: 30, Asleep: 20,
			Loss: simulator.Ramp{Onset: start.AddDate(0, 0, 10), Pace: c.pace, Most: 10},
		}
		h := house(t, simulator.Options{Start: start, Days: 60, Profiles: []simulator.Profile{p}, Scales: 1})
		last := 0.0
		for e := range h.Events() {
			if e.Kind == simulator.Visit {
				last = e.LevelKg
			}
			if e.Kind == simulator.Onset && (e.Sign != c.sign || e.Pace != -c.pace) {
				t.Errorf("%+v, want %s of %g", e, c.sign, -c.pace)
			}
		}
		within(t, string(c.sign), last/4, c.lo, c.hi)
	}
}

// In the hard house one cat passes two others on its way down, and comes out below both.
func TestHard_Loss_CrossesTwoCats(t *testing.T) {
	h := house(t, simulator.Hard(4, time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 110))
	first, last := map[string]float64{}, map[string]float64{}
	for e := range h.Events() {
		if e.Kind == simulator.Visit && e.Cat != simulator.Guest {
			if first[e.Cat] == 0 {
				first[e.Cat] = e.LevelKg
			}
			last[e.Cat] = e.LevelKg
		}
	}
	if first["saffron"] < first["bramble"] || first["bramble"] < first["quill"] || last["saffron"] > last["quill"] {
		t.Errorf("from %v to %v", first, last)
	}
	within(t, "kg lost", first["saffron"]-last["saffron"], 0.55, 0.75)
	within(t, "kg between the two", first["bramble"]-first["quill"], 0.15, 0.19)
}

// A year of samples needs no more memory than a day: readings are made as they are read.
func TestHouse_Load_KeepsMemoryFlat(t *testing.T) {
	h := house(t, simulator.Plain(1, time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 365))
	heap := func() float64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc) / 1e6
	}
	n, early := 0, 0.0
	for range h.Load() {
		if n++; n == 20_000 {
			early = heap()
		}
		if n == 600_000 {
			within(t, "MB more after thirty times as many readings", heap()-early, -5, 2)
			break
		}
	}
	if n < 600_000 {
		t.Fatalf("only %d readings in a year", n)
	}
}
