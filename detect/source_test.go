package detect

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"weighbeam/home"
)

// twoScales weighs a steady cat of 4.8 kg for days, three times a day: on the old
// scale, and from day changed on on the new one, which shows 60 g less. Both are
// used for the thirty days before. A person who shows 200 g more weighs weekly.
func twoScales(m *Monitor, daysOn, changed int) (end time.Time) {
	rng := rand.New(rand.NewPCG(3, 4))
	step := func(at time.Time, source string, kg, sd float64) {
		m.Step(Observation{Weighing: &home.Weighing{Cat: "cat", Time: at, Kg: kg + sd*rng.NormFloat64(), Source: source, Confidence: 1}})
	}
	for d := range daysOn {
		for v := range 3 {
			end = epoch.AddDate(0, 0, d).Add(time.Duration(5+6*v) * time.Hour)
			if d < changed && (d < changed-30 || v > 0) {
				step(end, "old", 4.8, 0.04)
			} else {
				step(end, "new", 4.74, 0.04)
			}
		}
		if d%7 == 3 {
			step(end.Add(time.Hour), home.Hand, 5.0, 0.1)
		}
	}
	return end
}

// TestWeights_Anchor_FollowsScale proves that the weight shown is the one that the
// scale in use shows, not a mean with a person's, and that the change of scale
// is no change of weight.
func TestWeights_Anchor_FollowsScale(t *testing.T) {
	for _, c := range []struct {
		name string
		days int
		want float64
	}{
		{"the old scale", 150, 4.8},
		{"the new scale", 480, 4.74},
	} {
		m := New(home.Cat{ID: "cat"}, Options{})
		end := twoScales(m, c.days, 200)
		m.Tick(end.Add(12 * time.Hour))
		out := m.Outlook(end)
		if math.Abs(out.Weight.Value-c.want) > 0.025 || out.Weight.Lo > c.want || out.Weight.Hi < c.want {
			t.Errorf("%s: %+v, want about %.2f", c.name, out.Weight, c.want)
		}
		if math.Abs(out.Month.Pct) > 0.5 {
			t.Errorf("%s: the month changed by %+.2f %%", c.name, out.Month.Pct)
		}
		if open := m.Open(); len(open) > 0 {
			t.Errorf("%s: found %s", c.name, open[0].Text)
		}
	}
}

// TestGood_Mixture proves the mixture: a weighing near the centre is good, one far
// away is not.
func TestGood_Mixture(t *testing.T) {
	if p := good(0.5, 1); p < 0.99 {
		t.Errorf("half a deviation off: %.3f", p)
	}
	if p := good(20, 1); p > 1e-6 {
		t.Errorf("twenty deviations off: %g", p)
	}
}

// TestSource_Noise_IsLearned proves that the noise of a scale is learned: quiet
// and noisy scales part within a few months, from the same pooled start.
func TestSource_Noise_IsLearned(t *testing.T) {
	for _, percentNoise := range []float64{0.5, 2} {
		h := newHousehold(unseenSeeds + 5)
		h.noise, h.rate, h.handRate = percentNoise, 3, 0
		m := New(home.Cat{ID: "cat"}, Options{})
		watch(m, h.weighings(150))
		s := &m.weights.sources[0]
		got := math.Sqrt(s.noise.Variance()) * deviceTrade.noise
		if math.Abs(got-percentNoise) > 0.15*percentNoise {
			t.Errorf("noise %.2f %%, learned %.2f", percentNoise, got)
		}
	}
}

// TestWeights_Relevel_WrongStart proves that a first weighing that was somebody
// else's is forgotten: within days the level is the cat's own, and nothing is found.
func TestWeights_Relevel_WrongStart(t *testing.T) {
	for _, kg := range []float64{1.7, 3.9, 5.2, 9} {
		rng := rand.New(rand.NewPCG(8, 8))
		m := New(home.Cat{ID: "cat"}, Options{})
		weigh := func(at time.Time, kg float64) []home.Transition {
			return append(m.Step(Observation{Weighing: &home.Weighing{Cat: "cat", Time: at, Kg: kg, Source: "box-1", Confidence: 1}}), m.Tick(at.Truncate(time.Hour))...)
		}
		weigh(epoch, kg)
		var turned []home.Transition
		for d := 1; d < 120; d++ {
			turned = append(turned, weigh(epoch.AddDate(0, 0, d), 4.5+0.05*rng.NormFloat64())...)
			if got := m.Outlook(epoch.AddDate(0, 0, d)).Weight.Value; d == 20 && math.Abs(got-4.5) > 0.15 {
				t.Errorf("begun at %.1f kg: %.2f kg after twenty days", kg, got)
			}
		}
		if len(turned) > 0 {
			t.Errorf("begun at %.1f kg: %s", kg, turned[0].Finding.Text)
		}
	}
}
