package detect

import (
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

var updateBreathing = flag.Bool("update-breathing", false, "rewrite testdata/breathing_characteristics.txt")

// breathSeeds begin the cats that the figures are made of. The threshold was
// fitted on cats below it.
const breathSeeds = 1 << 20

// healthyYears follows n healthy cats for the given years and returns how many
// findings were raised a cat-year, by sign.
func healthyYears(n, years int, budget float64, from uint64, change func(*sleeper)) map[home.Sign]float64 {
	raised := map[home.Sign]float64{}
	for i := range n {
		s := newSleeper(from + uint64(i))
		change(s)
		m := New(home.Cat{ID: "juniper", Name: "Juniper"}, Options{FalsePerCatYear: budget})
		for _, t := range stepCounts(m, s.counts(365*years)) {
			if t.Turn == home.Raised {
				raised[t.Finding.Sign] += 1 / float64(n*years)
			}
		}
	}
	return raised
}

// tellNothing leaves m to learn.
func tellNothing(*sleeper, *Monitor) {}

// risen is how n cats fared whose breaths began to rise.
type risen struct {
	delays   []float64 // days from onset to finding, the longest possible where none came
	onsetOff []float64 // days by which the stated onset was late
	paceIn   int       // how often the interval held the true pace
	onsetIn  int
	early    int // raised before the onset: counted as false, not as found
	rising   int // found as rising, with a pace and an onset
}

const risenDays = 220

// asDrawn leaves a cat as it is.
func asDrawn(*sleeper) {}

// otherCats are cats that the sign was not made for.
var otherCats = []struct {
	name   string
	change func(*sleeper)
}{
	{"wander half as wide again", func(s *sleeper) { s.wander *= 1.5 }},
	{"spread half as wide again", func(s *sleeper) { s.spread *= 1.5 }},
	{"season of 1.5 a minute either way", func(s *sleeper) { s.season = 1.5 }},
	{"counted over 15 s", func(s *sleeper) { s.seconds = 15 }},
	{"counted over 60 s", func(s *sleeper) { s.seconds = 60 }},
}

// tellNoise tells m what only the generator knows of the cat: how its counts lie
// about its usual. What is found then is about the best that can be.
func (s *sleeper) tellNoise(m *Monitor) {
	wander := math.Hypot(s.wander, s.season/math.Sqrt2)
	truth := []stat.RiseModel{{Noise: math.Hypot(s.own(), 2*math.Sqrt(s.slip)), Wander: wander, WanderFor: -1 / math.Log(s.phi), Prior: 1}}
	for _, sign := range m.signs {
		if b, ok := sign.(*breathingRising); ok {
			mean, sd := usualRates(home.Asleep)
			b.asleep.rises = *stat.NewRises(mean, sd, truth)
			b.asleep.before = b.asleep.rises
		}
	}
}

func risingCats(n int, pace, budget float64, from uint64, tell func(*sleeper, *Monitor)) risen {
	var r risen
	for i := range n {
		s := newSleeper(from + uint64(i))
		s.onset = 120 + float64(i%120)
		s.pace = pace
		readings := s.counts(int(s.onset) + risenDays)
		onset := breathStart.Add(time.Duration(s.onset * 24 * float64(time.Hour)))
		m := New(home.Cat{ID: "juniper", Name: "Juniper"}, Options{FalsePerCatYear: budget})
		tell(s, m)
		var first *home.Finding
		for _, t := range stepCounts(m, readings) {
			if t.Turn == home.Raised && first == nil {
				first = &t.Finding
			}
		}
		r.add(first, onset, pace)
	}
	slices.Sort(r.delays)
	slices.Sort(r.onsetOff)
	return r
}

func (r *risen) add(f *home.Finding, onset time.Time, pace float64) {
	switch {
	case f == nil:
		r.delays = append(r.delays, risenDays)
		return
	case f.Raised.Before(onset):
		r.early++
		return
	}
	r.delays = append(r.delays, f.Raised.Sub(onset).Hours()/24)
	if f.Sign != home.BreathingRising {
		return
	}
	r.rising++
	r.onsetOff = append(r.onsetOff, f.Onset.Sub(onset).Hours()/24)
	if f.RateLo <= pace && pace <= f.RateHi {
		r.paceIn++
	}
	if !f.OnsetLo.After(onset) && !f.OnsetHi.Before(onset) {
		r.onsetIn++
	}
}

func (r risen) quantile(p float64) float64 { return r.delays[int(p*float64(len(r.delays)-1))] }

func breathingTable(n int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Breath counts: three a week over 30 s, usual 15 to 26, spread 1 to 2.6, slow wander, season, 1 %% far too high.\n")
	fmt.Fprintf(&b, "%d simulated cats a line, none of them used for tuning.\n\n", n)
	fmt.Fprintf(&b, "budget  false/cat-year  of it high\n")
	for _, budget := range []float64{0.02, 0.05, 0.1, 0.2, 0.5} {
		f := healthyYears(n, 3, budget, breathSeeds, asDrawn)
		fmt.Fprintf(&b, "%6.2f  %14.3f  %10.3f\n", budget, f[home.BreathingRising]+f[home.BreathingHigh], f[home.BreathingHigh])
	}
	fmt.Fprintf(&b, "\nother cats, budget 0.1              false/cat-year\n")
	for _, o := range otherCats {
		f := healthyYears(n, 2, 0.1, breathSeeds, o.change)
		fmt.Fprintf(&b, "%-35s %14.3f\n", o.name, f[home.BreathingRising]+f[home.BreathingHigh])
	}
	fmt.Fprintf(&b, "\nrise/week  median days  90th  noise known: median  early  onset off (median)  pace in 90 %%  onset in 90 %%\n")
	for i, pace := range []float64{0.5, 1, 2} {
		from := uint64(breathSeeds + (i+1)*100000)
		r, best := risingCats(n, pace, 0.1, from, tellNothing), risingCats(n, pace, 0.1, from, (*sleeper).tellNoise)
		fmt.Fprintf(&b, "%9.1f  %11.1f  %4.0f  %19.1f  %5d  %18.1f  %12.0f%%  %13.0f%%\n", pace, r.quantile(0.5), r.quantile(0.9), best.quantile(0.5), r.early,
			r.onsetOff[len(r.onsetOff)/2], 100*float64(r.paceIn)/float64(r.rising), 100*float64(r.onsetIn)/float64(r.rising))
	}
	return b.String()
}

// TestBreathing_Characteristics compares the measured table with the golden one.
// It takes minutes: set WEIGHBEAM_LONG=1.
func TestBreathing_Characteristics(t *testing.T) {
	if os.Getenv("WEIGHBEAM_LONG") == "" {
		t.Skip("a long measurement: set WEIGHBEAM_LONG=1")
	}
	got := breathingTable(600)
	golden := filepath.Join("testdata", "breathing_characteristics.txt")
	if *updateBreathing {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		os.WriteFile(golden+".got", []byte(got), 0o644)
		t.Errorf("differs from %s:\n%s", golden, got)
	}
}
