package simulator_test

import (
	"math"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

// pair is one moment of the same house with a fault and without it.
type pair struct {
	time    time.Time
	on, off float64
	missing bool // nothing came with the fault
}

// pairs lines up the signal with and without a fault, which changes nothing else.
func pairs(tt trial, days int) []pair {
	until := tt.off.End().AddDate(0, 0, days-24)
	on := map[time.Time]float64{}
	for r := range tt.on.Load() {
		if r.Quantity == home.Load && r.Time.Before(until) {
			on[r.Time] = r.Value
		}
	}
	var list []pair
	for r := range tt.off.Load() {
		if !r.Time.Before(until) {
			break
		}
		if r.Quantity == home.Load {
			kg, ok := on[r.Time]
			list = append(list, pair{r.Time, kg, r.Value, !ok})
		}
	}
	return list
}

// shift is what the fault adds, kg, where both houses sent something.
func shift(list []pair) []float64 {
	var v []float64
	for _, p := range list {
		if !p.missing {
			v = append(v, p.on-p.off)
		}
	}
	return v
}

// Warmth moves the zero by 8 to 25 g and back within a day, half as much more on some days.
func TestFault_Thermal_FollowsTheDay(t *testing.T) {
	v := shift(pairs(newTrial(t, simulator.Thermal, simulator.FiveHertz()), 2))
	within(t, "range of the shift, kg", highest(v)-lowest(v), 0.008, 0.08)
	within(t, "mean of the shift, kg", mean(v), -0.02, 0.02)
}

// The zero wanders by tens of grams in weeks, by little in a day.
func TestFault_ZeroDrift_TakesWeeks(t *testing.T) {
	list := pairs(newTrial(t, simulator.ZeroDrift, simulator.FiveHertz()), 24)
	all, day := shift(list), shift(list[:500])
	within(t, "range in 24 days, kg", highest(all)-lowest(all), 0.015, 0.17)
	within(t, "range in the first 500 samples, kg", highest(day)-lowest(day), 0, 0.02)
}

// The cell is short by at most two parts in a thousand of what came on it, and
// as much too high after it left.
func TestFault_Creep_IsSmall(t *testing.T) {
	v := shift(pairs(newTrial(t, simulator.Creep, simulator.FiveHertz()), 3))
	within(t, "lowest, kg", lowest(v), -0.015, -0.004)
	within(t, "highest, kg", highest(v), 0.004, 0.015)
	within(t, "median, kg", quantile(v, 0.5), -0.002, 0.002)
}

// Samples are missing within the visits that say so, and only there.
func TestFault_Dropout_LosesSamplesOfItsVisits(t *testing.T) {
	tt := newTrial(t, simulator.Dropout, simulator.FiveHertz())
	lost := 0
	for _, p := range pairs(tt, 24) {
		if p.missing {
			lost++
			if !bears(tt, p.time) {
				t.Fatalf("a sample of %s is missing, no visit with a dropout was then", p.time)
			}
		}
	}
	within(t, "samples lost", float64(lost), 30, 5000)
}

// Each visit that says so has one to four samples far off, and no other has.
func TestFault_Spikes_AreSingle(t *testing.T) {
	tt := newTrial(t, simulator.Spikes, simulator.FiveHertz())
	list, far, visits := pairs(tt, 24), 0, 0
	for _, p := range list {
		if math.Abs(p.on-p.off) > 0.5 {
			far++
		}
	}
	for e := range tt.on.Events() {
		if !e.Faults.Has(simulator.Spikes) {
			continue
		}
		visits++
		n := 0
		for _, p := range list {
			if math.Abs(p.on-p.off) > 0.5 && p.time.After(e.Start) && p.time.Before(e.End.Add(time.Second)) {
				n++
			}
		}
		within(t, "spikes of a visit", float64(n), 1, 4)
		far -= n
	}
	if far != 0 || visits < 5 {
		t.Errorf("%d spikes outside of the %d visits that have some", far, visits)
	}
}

// A stuck cell says the same for 5 s or more; a free one does not, for its noise.
func TestFault_Stuck_RepeatsAValue(t *testing.T) {
	tt := newTrial(t, simulator.Stuck, simulator.FiveHertz())
	on, off := 0, 0
	longestOn, longestOff := 0, 0
	list := pairs(tt, 24)
	for i := 1; i < len(list); i++ {
		on, off = run(on, list[i].on == list[i-1].on), run(off, list[i].off == list[i-1].off)
		longestOn, longestOff = max(longestOn, on), max(longestOff, off)
	}
	within(t, "the same value in a row, stuck", float64(longestOn), 24, 120)
	within(t, "the same value in a row, free", float64(longestOff), 0, 8)
}

func run(n int, again bool) int {
	if again {
		return n + 1
	}
	return 0
}

// bears reports whether a visit with the trial's fault was going on.
func bears(tt trial, at time.Time) bool {
	for e := range tt.on.Events() {
		if e.Start.After(at) {
			return false
		}
		if e.Faults.Has(tt.fault) && !at.After(e.End.Add(time.Second)) {
			return true
		}
	}
	return false
}

// Nothing above the capacity is ever sent, and the truth says which visits it met.
func TestFault_Saturated_EndsAtTheCapacity(t *testing.T) {
	tt := newTrial(t, simulator.Saturated, simulator.FiveHertz())
	most, same, over := 0.0, 0, 0
	for r := range tt.on.Load() {
		if r.Quantity == home.Load && r.Value > most {
			most = r.Value
		}
	}
	for _, p := range pairs(tt, 24) {
		if p.on == most {
			same++
		}
		if p.off > most {
			over++
		}
	}
	met := 0
	for e := range tt.on.Events() {
		if e.Faults.Has(simulator.Saturated) {
			met++
		}
	}
	if same < over || over < 50 || met < 3 {
		t.Errorf("%d samples at the end of %.3f kg, %d would be beyond it; the truth says %d visits", same, most, over, met)
	}
}

// Every value is a whole number of steps of 5 to 50 g.
func TestFault_Quantised_HasSteps(t *testing.T) {
	finest := func(h *simulator.House) float64 {
		for _, step := range []float64{0.05, 0.02, 0.01, 0.005, 0.001} {
			whole := true
			for r := range h.Load() {
				n := r.Value / step
				whole = whole && (r.Quantity != home.Load || math.Abs(n-math.Round(n)) < 1e-6)
			}
			if whole {
				return step
			}
		}
		return 0
	}
	tt := newTrial(t, simulator.Quantised, simulator.FiveHertz())
	within(t, "steps, kg", finest(tt.on), 0.005, 0.05)
	within(t, "steps without the fault, kg", finest(tt.off), 0.001, 0.001)
}

// Nothing is sent unless it changed by 25 g, or five minutes of the clock are over.
func TestFault_DeadBand_SendsOnChange(t *testing.T) {
	tt := newTrial(t, simulator.DeadBand, simulator.FiveHertz())
	var last home.Reading
	n, all := 0, 0
	for r := range tt.on.Load() {
		if r.Quantity != home.Load {
			continue
		}
		if n++; n > 1 {
			gap, change := r.Time.Sub(last.Time), math.Abs(r.Value-last.Value)
			if change < 0.0245 && r.Time.Truncate(5*time.Minute).Equal(last.Time.Truncate(5*time.Minute)) || gap > 5*time.Minute+15*time.Second {
				t.Fatalf("%s after %s: %.3f kg more", r.Time, gap, change)
			}
		}
		last = r
	}
	for range tt.off.Load() {
		all++
	}
	within(t, "part of the messages that is left", float64(n)/float64(all), 0.1, 0.8)
}

// A scale that is off sends nothing, and the truth says from when to when.
func TestFault_Gap_IsSilent(t *testing.T) {
	o := simulator.Plain(6, time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 120)
	o.Faults = simulator.Gap
	h := house(t, o)
	var silent []simulator.Event
	for e := range h.Events() {
		if e.Kind == simulator.Silent {
			silent = append(silent, e)
		}
	}
	if len(silent) == 0 {
		t.Fatal("no scale was ever off")
	}
	for r := range h.Load() {
		for _, e := range silent {
			if r.Source == e.Source && !r.Time.Before(e.Start) && r.Time.Before(e.End) {
				t.Fatalf("%s sent at %s, off from %s to %s", r.Source, r.Time, e.Start, e.End)
			}
		}
	}
	for e := range h.Events() {
		for _, s := range silent {
			if off := e.Source == s.Source && e.Start.After(s.Start) && e.Start.Before(s.End); off && !e.Lost && e.Kind == simulator.Visit {
				t.Fatalf("a visit at %s is not marked as lost", e.Start)
			}
		}
	}
}

// Without the fault no settled weight is far off; with it 1.5 % are.
func TestFault_Outlier_ShowsInSettledWeights(t *testing.T) {
	tt := newTrial(t, simulator.Outlier, simulator.FiveHertz())
	off, on := tt.off.History(), tt.on.History()
	n := 0
	for i := range off {
		if math.Abs(on[i].Value-off[i].Value) > 0.1*off[i].Value {
			n++
		}
	}
	if n == 0 || n > len(off)/10 || len(on) != len(off) {
		t.Errorf("%d of %d readings are far off", n, len(off))
	}
}

// A device sends at its own pace while a cat is there.
func TestDevice_Hz_IsKept(t *testing.T) {
	for _, dev := range simulator.Devices() {
		tt := newTrial(t, simulator.NoFault, dev)
		list := traces(t, tt.on, func(e simulator.Event) bool { return e.Kind == simulator.Visit }, 3)
		for _, tr := range list {
			hz := float64(len(tr.part(0, tr.lasts()))) / tr.lasts()
			if dev.BandKg == 0 {
				within(t, dev.Name+": messages a second", hz, 0.93*dev.Hz, 1.07*dev.Hz)
			} else {
				within(t, dev.Name+": messages a second", hz, 0.02, dev.Hz)
			}
		}
	}
}

// What a still cat presses with is its mass, and what is there afterwards is
// what it left, on every device.
func TestDevice_Visit_WeighsTheTruth(t *testing.T) {
	for _, dev := range simulator.Devices() {
		tt := newTrial(t, simulator.NoFault, dev)
		for _, tr := range traces(t, tt.on, func(e simulator.Event) bool { return e.Kind == simulator.Visit }, 6) {
			slack := 1000*max(dev.StepKg, dev.BandKg) + 10
			still := 1000 * quantile(tr.held(0.35*tr.lasts(), 0.9*tr.lasts()), 0.5)
			within(t, dev.Name+": g of the cat against the truth", still-1000*tr.MassKg, -slack, slack)
			left := 1000 * quantile(tr.held(tr.lasts()+5, 999), 0.5)
			within(t, dev.Name+": g left against the truth", left-tr.LeftG, -slack, slack)
		}
	}
}
