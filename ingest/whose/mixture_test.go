package whose

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

type mixture struct {
	Prior, Mean, SD []float64
	Cases           []struct {
		X, LogOdds1vs2 float64
		Posterior      []float64
	}
	Three struct {
		X         []float64
		MeasSD    float64 `json:"meas_sd"`
		Posterior []float64
	} `json:"three_obs_with_meas_sd_0.1"`
}

// posterior is what a trellis with still, known tracks and no tails makes of y.
func (m mixture) posterior(y, sd, unit float64) []float64 {
	start := make([]track, len(m.Mean))
	for i := range start {
		start[i] = track{level: m.Mean[i] * unit, pll: 1e-9, pss: 1e-9, sure: 1e9, scatter: m.SD[i] * m.SD[i] * unit * unit, seen: true}
	}
	tr := newTrellis(start)
	tr.wild = 0
	tr.branch(&weighing{mass: y * unit, variance: sd * sd * unit * unit, prior: m.Prior})
	p, sum := make([]float64, len(start)), 0.0
	for _, b := range tr.branches {
		p[b.cat] += b.weight
		sum += b.weight
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// The posteriors of a static mixture are those of Bayes' rule; the source is
// named in testdata/mixture.json.
func TestTrellis_Branch_ReferencePosteriors(t *testing.T) {
	var ref struct {
		Source        string
		Cats, Waiting mixture
	}
	raw, err := os.ReadFile("testdata/mixture.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &ref); err != nil {
		t.Fatal(err)
	}
	for _, m := range []mixture{ref.Cats, ref.Waiting} {
		if len(m.Cases) < 4 {
			t.Fatalf("only %d cases read", len(m.Cases))
		}
		for _, c := range m.Cases {
			got := m.posterior(c.X, 0, 1000)
			for i, want := range c.Posterior {
				if math.Abs(got[i]-want) > 1e-8*math.Max(want, 1e-3) {
					t.Errorf("x %g component %d: got %.12g, want %.12g", c.X, i, got[i], want)
				}
			}
		}
	}
	odds := 1.0
	for _, x := range ref.Cats.Three.X {
		p := ref.Cats.posterior(x, ref.Cats.Three.MeasSD, 1000)
		odds *= p[0] / p[1] * ref.Cats.Prior[1] / ref.Cats.Prior[0]
	}
	odds *= ref.Cats.Prior[0] / ref.Cats.Prior[1]
	if got, want := odds/(1+odds), ref.Cats.Three.Posterior[0]; math.Abs(got-want) > 1e-9 {
		t.Errorf("three readings: got %.10g, want %.10g", got, want)
	}
}
