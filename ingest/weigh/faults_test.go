package weigh

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

var update = flag.Bool("update", false, "write testdata anew")

const faultsHeading = `# What each fault of the simulator does to the visits of two boxes at 5 Hz, three cats, eight days; a
# seed that nothing was tuned on. found: share of the true lone visits that came out as one weighing,
# within 15 s of their start; mass: of those, the share within 5 % of the true mass.
# The limits are those of the cell. One that is saturated ends below what stands on it: its mass cannot be had, and
# the visit is told as a look, "saturated", by the one value that repeats. A dead band and coarse steps hide
# just that, since there a cat that stands still repeats a value, too: then a mass is too low, and mostly of a low quality.
#                found   mass
`

// TestWeigher_Faults_Table holds what every fault costs, the limits included, so
// that a change for the worse is seen.
func TestWeigher_Faults_Table(t *testing.T) {
	var b strings.Builder
	b.WriteString(faultsHeading)
	for _, f := range append([]simulator.Fault{simulator.NoFault}, simulator.AllFaults.Each()...) {
		faultLine(t, &b, f.String(), f)
	}
	physical := simulator.Saturated | simulator.Stuck | simulator.DeadBand
	faultLine(t, &b, "all but saturated, stuck, dead-band", simulator.AllFaults&^physical)
	faultLine(t, &b, "all", simulator.AllFaults)
	compare(t, "testdata/faults.txt", b.String())
}

func faultLine(t *testing.T, b *strings.Builder, name string, f simulator.Fault) {
	t.Helper()
	sim, err := simulator.New(simulator.Options{Seed: 9041, Start: time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC), Days: 8, Cats: 3, Scales: 2, Faults: f})
	if err != nil {
		t.Fatal(err)
	}
	w := New(sim.Household(), nil, nil)
	var seen []home.Visit
	last := time.Time{}
	for r := range sim.Load() {
		w.Step(r)
		last = r.Time
	}
	for _, v := range w.Release(last.Add(24 * time.Hour)) {
		if v.Event == home.CatVisit {
			seen = append(seen, v)
		}
	}
	true1, found, right := 0, 0, 0
	for e := range sim.Events() {
		if e.Kind != simulator.Visit || e.Lost || e.With != "" {
			continue
		}
		true1++
		for _, v := range seen {
			if d := v.Start.Sub(e.Start); v.Source == e.Source && d > -15*time.Second && d < 15*time.Second {
				found++
				if v.MassKg > 0.95*e.MassKg && v.MassKg < 1.05*e.MassKg {
					right++
				}
				break
			}
		}
	}
	fmt.Fprintf(b, "%-36s %4d  %.3f  %.3f\n", name, true1, share(found, true1), share(right, found))
}

func share(n, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(n) / float64(of)
}

// compare holds got against a golden file. Other processors may round the last
// digits of sums differently.
func compare(t *testing.T, path, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if runtime.GOARCH == "amd64" && got != string(want) {
		t.Errorf("%s differs; run with -update if it is better:\n%s", path, got)
	}
}
