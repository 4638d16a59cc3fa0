package stat

import (
	"math"
	"math/rand/v2"
	"testing"
)

// plain steps ramps through independent unit-variance samples, as no filter would.
func plain(r *Ramps, t int, x float64) {
	r.Begin(float64(t - 1))
	r.Observe(float64(t), &Vec{}, &Innovation{V: x, F: 1}, 0)
}

type rampPath struct {
	N        int
	Stat     float64
	Onset    int `json:"onset_index0"`
	Estimate float64
}

// TestRamps_Best_ExactPath holds the drift ratio and the matched drift CUSUM to
// ten samples worked out in exact rationals.
func TestRamps_Best_ExactPath(t *testing.T) {
	var ref struct {
		X       []float64
		GLR     []rampPath `json:"glr_drift"`
		Matched []rampPath `json:"matched_drift_cusum_b0_2"`
	}
	readJSON(t, "ramp_paths.json", &ref)
	r := Ramps{Window: 100, Dense: 100}
	for i, x := range ref.X {
		plain(&r, i, x)
		best, ok := r.Best(math.Inf(-1), math.Inf(1))
		want := ref.GLR[i]
		if !ok {
			t.Fatalf("sample %d: nothing", i)
		}
		near(t, "ratio", best.LLR, want.Stat, 1e-12)
		near(t, "slope", best.Slope, want.Estimate, 1e-12)
		near(t, "first index of the ramp", best.Onset+1, float64(want.Onset), 0)
		near(t, "matched drift CUSUM", r.LLR(0.2), ref.Matched[i].Stat, 1e-12)
	}
}

// filterOf runs a level with wander and a biased second source over y, with
// unequal noise and a gap, and returns its log-likelihood.
func filterOf(y []float64, each func(t float64, k *Kalman, h *Vec, inn *Innovation), step func(phi *Vec, last float64)) float64 {
	k := unknownLevel()
	k.Append(0, 0.3)
	k.Append(0, 2)
	total := 0.0
	for i, v := range y {
		day := dayOf(i)
		if i > 0 {
			dt := day - dayOf(i-1)
			phi := Vec{1, math.Pow(0.7, dt), 1}
			k.Scale(&phi, &Vec{0.01 * dt, 0.3 * (1 - math.Pow(0.7, 2*dt)), 1e-4})
			step(&phi, dayOf(i-1))
		}
		h := Vec{1, 1, float64(i % 3 / 2)}
		inn := k.Observe(&h, v, 0.5+float64(i%4))
		total += inn.LogLik()
		each(day, &k, &h, &inn)
	}
	return total
}

// dayOf leaves out a week after the twentieth observation.
func dayOf(i int) float64 {
	if i > 20 {
		return float64(i + 7)
	}
	return float64(i)
}

// TestRamps_Observe_IsLikelihoodRatio proves the recursion: for each onset and any
// slope, b score - b^2 info / 2 is the difference of two whole log-likelihoods,
// with the ramp taken out of the data and without.
func TestRamps_Observe_IsLikelihoodRatio(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	y := make([]float64, 60)
	for i := range y {
		y[i] = rng.NormFloat64() - 0.05*max(0, float64(i-30))
	}
	r := Ramps{Window: 1000, Dense: 1000}
	ignore := func(float64, *Kalman, *Vec, *Innovation) {}
	none := filterOf(y, func(day float64, k *Kalman, h *Vec, inn *Innovation) { r.Observe(day, h, inn, k.N) },
		func(phi *Vec, last float64) { r.Scale(phi, 3); r.Begin(last) })
	for _, b := range []float64{-0.3, -0.02, 0.1} {
		for _, o := range r.onsets {
			without := make([]float64, len(y))
			for i := range y {
				without[i] = y[i] - b*max(0, dayOf(i)-o.at)
			}
			want := filterOf(without, ignore, func(*Vec, float64) {}) - none
			near(t, "log-likelihood ratio", b*o.score-b*b*o.info/2, want, 1e-9)
		}
	}
}

// steadyDelay is the mean delay of a one-sided drift ratio after 100 quiet samples.
func steadyDelay(rng *rand.Rand, slope, threshold, window float64, runs int) (mean, se float64) {
	var sum, squares float64
	for n := 0; n < runs; {
		r := Ramps{Window: window, Dense: window}
		delay := 0
		for i := 0; delay == 0; i++ {
			plain(&r, i, rng.NormFloat64()+slope*max(0, float64(i-99)))
			if best, ok := r.Best(0, math.Inf(1)); ok && best.LLR > threshold {
				delay = i - 99
			}
		}
		if delay < 1 {
			continue // a false alarm: the steady state is that of runs without one
		}
		n++
		sum += float64(delay)
		squares += float64(delay * delay)
	}
	mean = sum / float64(runs)
	return mean, math.Sqrt((squares/float64(runs) - mean*mean) / float64(runs))
}

// TestRamps_Best_Delay holds simulated delays to an independent simulation, and
// above the Neyman-Pearson bound that no detector can beat.
func TestRamps_Best_Delay(t *testing.T) {
	var ref struct {
		Threshold, Window float64
		Delays            []struct {
			Slope, Bound float64
			Steady       float64 `json:"steady_delay"`
		}
	}
	readJSON(t, "ramp_delays.json", &ref)
	rng := rand.New(rand.NewPCG(7, 7))
	for _, d := range ref.Delays {
		mean, se := steadyDelay(rng, d.Slope, ref.Threshold, ref.Window, 250)
		near(t, "delay", mean, d.Steady, 4*se+0.01*d.Steady)
		if mean+4*se < d.Bound {
			t.Errorf("slope %g: delay %.2f is under the bound %.2f: the count must be wrong", d.Slope, mean, d.Bound)
		}
	}
}

// TestRamps_Begin_BoundedOnsets proves that the number of onsets, and with it the
// cost of a day, stops growing, and that neighbours stay near enough.
func TestRamps_Begin_BoundedOnsets(t *testing.T) {
	r := Ramps{Window: 480, Dense: 50, Space: 4}
	for day := range 5000 {
		r.Begin(float64(day))
		if r.Len() > 160 {
			t.Fatalf("day %d: %d onsets", day, r.Len())
		}
	}
	for i := 1; i < r.Len(); i++ {
		if gap := r.onsets[i].at - r.onsets[i-1].at; gap > 16 {
			t.Errorf("onsets %v days apart", gap)
		}
	}
}

// TestRamps_Begin_SparseOnsetsStay proves that a cat weighed once a month keeps
// every onset of the window.
func TestRamps_Begin_SparseOnsetsStay(t *testing.T) {
	r := Ramps{Window: 480, Dense: 50, Space: 4}
	for month := range 17 {
		r.Begin(float64(30 * month))
	}
	if r.Len() != 17 {
		t.Errorf("%d onsets of 17 are kept", r.Len())
	}
}

// TestRamps_Profile_Covers proves that, looked at when the ratio first crosses a
// line, the intervals hold the truth as often as they say, the slope being drawn
// from the prior. An interval from the likelihood alone would not.
func TestRamps_Profile_Covers(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	const runs = 300
	slopeIn, onsetIn := 0, 0
	for n := 0; n < runs; {
		slope := -0.02 * math.Pow(50, rng.Float64())
		onset := 30 + 20*rng.Float64()
		r := Ramps{Window: 500, Dense: 500}
		at := -1
		for i := 0; at < 0; i++ {
			plain(&r, i, rng.NormFloat64()+slope*max(0, float64(i)-onset))
			if best, ok := r.Best(-1, -0.02); ok && best.LLR > 6 {
				at = i
			}
		}
		if float64(at) <= onset {
			continue // a false alarm
		}
		n++
		p, _ := r.Profile(float64(at), -1, -0.02, 0.9)
		if p.Slope.Lo <= slope && slope <= p.Slope.Hi {
			slopeIn++
		}
		if p.Onset.Lo-1 <= onset && onset <= p.Onset.Hi+1 {
			onsetIn++
		}
	}
	for what, n := range map[string]int{"slope": slopeIn, "onset": onsetIn} {
		if share := float64(n) / runs; share < 0.84 || share > 0.97 {
			t.Errorf("the 90 %% interval of the %s held it in %.2f", what, share)
		}
	}
}

// TestRamps_Best_Nothing proves that no onset gives no ramp, and no profile.
func TestRamps_Best_Nothing(t *testing.T) {
	var r Ramps
	if _, ok := r.Best(-1, 1); ok {
		t.Error("a ramp from nothing")
	}
	if _, ok := r.Profile(1, -1, -0.1, 0.9); ok {
		t.Error("a profile from nothing")
	}
	plain(&r, 1, 3)
	r.Forget(1)
	if r.Len() != 0 {
		t.Errorf("%d onsets after they were forgotten", r.Len())
	}
}
