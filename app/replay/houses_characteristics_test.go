package replay

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
	"weighbeam/simulator"
)

var updateHouses = flag.Bool("update-houses", false, "write the table of whole houses again")

// turnedIn is what a house of the simulator, settled weighings and counts, leads
// to when it is played through visits, names and monitors.
func turnedIn(t *testing.T, seed uint64, days, unwell int) (*simulator.House, []home.Transition) {
	t.Helper()
	house, err := simulator.New(simulator.Options{Seed: seed, Start: time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC), Days: days, Cats: 3, Unwell: unwell, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	p := New(house.Household(), nil, detect.Options{})
	for r := range house.Settled() {
		p.Step(r)
	}
	var turned []home.Transition
	for _, e := range p.End() {
		if e.transition != nil && e.transition.Turn == home.Raised {
			turned = append(turned, *e.transition)
		}
	}
	return house, turned
}

// nearest is the least difference of two cats' weights, kg.
func nearest(h home.Household) float64 {
	kg := 9.0
	for i, a := range h.Cats {
		for _, b := range h.Cats[:i] {
			kg = min(kg, max(a.WeightKg-b.WeightKg, b.WeightKg-a.WeightKg))
		}
	}
	return kg
}

// housesTable plays healthy houses whole: how often something is found that is not
// there, where the cats weigh nearly the same and where they do not.
func housesTable(t *testing.T, houses int) string {
	const days, near = 480, 0.3
	signs := []home.Sign{home.WeightFalling, home.WeightRising, home.WeightLow, home.BreathingRising, home.BreathingHigh, home.NotSeen, home.ScaleSilent}
	var b strings.Builder
	fmt.Fprintf(&b, "%d healthy houses of the simulator, three cats and two scales, %d days each, from settled weighings to findings.\n"+
		"False findings a cat-year, of scale-silent a scale-year. Near: two cats within %.0f g of each other.\n\n%-18s", houses, days, 1000*near, "")
	for _, s := range signs {
		fmt.Fprintf(&b, " %16s", s)
	}
	for _, of := range []string{"near", "apart"} {
		found, years := map[home.Sign]int{}, 0.0
		for seed := range houses {
			house, turned := turnedIn(t, uint64(1000+seed), days, 0)
			if (nearest(house.Household()) < near) != (of == "near") {
				continue
			}
			years += days / 365.25
			for _, tr := range turned {
				found[tr.Finding.Sign]++
			}
		}
		fmt.Fprintf(&b, "\n%-6s %4.0f years ", of, 3*years)
		for _, s := range signs {
			subjects := 3.0
			if s == home.ScaleSilent {
				subjects = 2
			}
			fmt.Fprintf(&b, " %16.3f", float64(found[s])/(subjects*years))
		}
	}
	return b.String() + "\n"
}

// TestReplay_Houses_Characteristics compares what whole houses give with the golden
// table. The numbers of the houses were not used for tuning.
func TestReplay_Houses_Characteristics(t *testing.T) {
	if os.Getenv("WEIGHBEAM_LONG") == "" {
		t.Skip("a long measurement: set WEIGHBEAM_LONG=1")
	}
	file := filepath.Join("testdata", "houses_characteristics.txt")
	got := housesTable(t, 40)
	if *updateHouses {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// A house of two cats that cannot be told apart: the visits that look clear are
// the heaviest of one and the lightest of the other. Nothing is found in it, and
// it is said of both cats how little can be seen.
func TestReplay_NearTwins_NothingFound(t *testing.T) {
	_, turned := turnedIn(t, 12, 260, 0)
	if i := slices.IndexFunc(turned, func(tr home.Transition) bool { return tr.Finding.Cat != "" }); i >= 0 {
		t.Errorf("%s: %s", turned[i].Finding.Cat, turned[i].Finding.Text)
	}
}
