package detect

import (
	"flag"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"weighbeam/home"
)

var updateWeights = flag.Bool("update-weights", false, "rewrite testdata/weight_characteristics.txt")

// falseFalls follows healthy cats for the given years each and returns how many
// findings of each sign were raised a cat-year.
func falseFalls(kind func(uint64) *household, cats, years int, budget float64, from uint64) map[home.Sign]float64 {
	raised := map[home.Sign]float64{}
	for i := range cats {
		m := New(home.Cat{ID: "cat"}, Options{FalsePerCatYear: budget})
		for _, t := range watch(m, kind(from+uint64(i)).weighings(365*years)) {
			if t.Turn == home.Raised {
				raised[t.Finding.Sign] += 1 / float64(cats*years)
			}
		}
	}
	return raised
}

// falls is how cats fared whose weight began to fall.
type falls struct {
	pace     float64   // percent a week
	delays   []float64 // days from onset to finding, +Inf where none came in fallDays
	lost     []float64 // percent lost when found
	onsetOff []float64 // days by which the stated onset was late
	paceIn   int       // how often the interval held the true pace
	onsetIn  int
	early    int // findings raised before the onset: false ones
}

const fallDays = 420

// fallingCats lets the weight of each cat fall at pace percent a week from a day
// drawn between the 150th and the 250th on.
func fallingCats(cats int, pace, budget float64, from uint64) falls {
	f := falls{pace: pace}
	for i := range cats {
		h := newHousehold(from + uint64(i))
		h.onset = 150 + 100*h.rng.Float64()
		h.pace = pace / 7
		m := New(home.Cat{ID: "cat"}, Options{FalsePerCatYear: budget})
		f.add(watch(m, h.weighings(int(h.onset)+fallDays)), h.onset)
	}
	slices.Sort(f.delays)
	slices.Sort(f.lost)
	slices.Sort(f.onsetOff)
	return f
}

func (f *falls) add(turned []home.Transition, onset float64) {
	for _, t := range turned {
		if t.Turn != home.Raised || t.Finding.Sign != home.WeightFalling {
			continue
		}
		delay := dayNumber(t.At.Sub(epoch).Hours()) - onset
		if delay < 0 {
			f.early++
			continue
		}
		f.delays = append(f.delays, delay)
		f.lost = append(f.lost, delay*f.pace/7)
		f.judge(t.Finding, onset)
		return
	}
	f.delays = append(f.delays, math.Inf(1))
}

func (f *falls) judge(g home.Finding, onset float64) {
	f.onsetOff = append(f.onsetOff, dayNumber(g.Onset.Sub(epoch).Hours())-onset)
	if -g.RateLo <= f.pace && f.pace <= -g.RateHi || -g.RateHi <= f.pace && f.pace <= -g.RateLo {
		f.paceIn++
	}
	if dayNumber(g.OnsetLo.Sub(epoch).Hours()) <= onset && onset <= dayNumber(g.OnsetHi.Sub(epoch).Hours()) {
		f.onsetIn++
	}
}

func dayNumber(hours float64) float64 { return hours / 24 }

func quantile(sorted []float64, p float64) float64 { return sorted[int(p*float64(len(sorted)-1))] }

var paces = []float64{0.18, 0.25, 0.5, 1, 2}

func weightTable(cats int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Weights: visit noise 25 to 75 g, 1 to 4.5 visits a day, correlated wander of 7 to 24 g, slow drift, season,\n"+
		"1.5 %% gross outliers, gaps, hand weighings of +-120 g with a bias. %d simulated cats a line, a quarter of them for the\n"+
		"curve of delay against budget, none of them used for tuning. Restless: cats that wander by 25 to 75 g from day to day.\n\n", cats)
	fmt.Fprintf(&b, "        false findings a cat-year                  median days at a loss a week of\n")
	fmt.Fprintf(&b, "budget  falling  restless cats  rising    low      0.18 %%  0.25 %%   0.5 %%     1 %%     2 %%\n")
	for _, budget := range []float64{0.02, 0.05, 0.1, 0.2, 0.5, 1} {
		f := falseFalls(newHousehold, cats, 3, budget, unseenSeeds)
		restless := falseFalls(newRestless, cats, 3, budget, unseenSeeds)[home.WeightFalling]
		fmt.Fprintf(&b, "%6.2f  %7.3f  %13.3f  %6.3f  %5.3f     ", budget, f[home.WeightFalling], restless, f[home.WeightRising], f[home.WeightLow])
		for i, pace := range paces {
			fmt.Fprintf(&b, " %7.1f", quantile(fallingCats(cats/4, pace, budget, unseenSeeds+uint64(i+1)*10000).delays, 0.5))
		}
		fmt.Fprintln(&b)
	}
	fmt.Fprintf(&b, "\nbudget 0.10\nloss/week  median days  90th  lost when found  early  onset late by (median)  pace in 90 %%  onset in 90 %%\n")
	for i, pace := range paces {
		f := fallingCats(cats, pace, 0.1, unseenSeeds+uint64(i+1)*100000)
		n := float64(len(f.onsetOff))
		fmt.Fprintf(&b, "%7.2f %%  %11.1f  %4.0f  %13.1f %%  %5d  %23.1f  %12.0f%%  %13.0f%%\n", pace,
			quantile(f.delays, 0.5), quantile(f.delays, 0.9), quantile(f.lost, 0.5), f.early,
			quantile(f.onsetOff, 0.5), 100*float64(f.paceIn)/n, 100*float64(f.onsetIn)/n)
	}
	return b.String()
}

// TestWeights_Characteristics compares the measured table with the golden one.
// It takes two minutes of one core: set WEIGHBEAM_LONG=1, and give
// -update-weights to make the golden table again.
func TestWeights_Characteristics(t *testing.T) {
	if os.Getenv("WEIGHBEAM_LONG") == "" {
		t.Skip("a long measurement: set WEIGHBEAM_LONG=1")
	}
	golden(t, "weight_characteristics.txt", weightTable(800), *updateWeights)
}

// TestWeights_FewCats is the quick version of the golden table: with so few cats
// the limits are wide, but a detector that is blind or nervous fails.
func TestWeights_FewCats(t *testing.T) {
	if f := falseFalls(newHousehold, 60, 2, 0.1, unseenSeeds)[home.WeightFalling]; f > 0.19 {
		t.Errorf("%.3f false findings a cat-year over 120 cat-years, want at most 0.19 (10 expected, 22 allowed)", f)
	}
	for i, c := range []struct{ pace, days float64 }{{0.5, 42}, {1, 21}, {2, 14}} {
		f := fallingCats(30, c.pace, 0.1, unseenSeeds+uint64(i+1)*1000)
		if got := quantile(f.delays, 0.5); got > c.days {
			t.Errorf("%.2f %% a week: found after %.1f days in the median, want at most %.0f", c.pace, got, c.days)
		}
		if f.paceIn < 22 {
			t.Errorf("%.2f %% a week: the 90 %% interval of the pace held it for %d cats of 30", c.pace, f.paceIn)
		}
	}
}
