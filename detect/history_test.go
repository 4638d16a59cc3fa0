package detect

import (
	"math"
	"strings"
	"testing"

	"weighbeam/home"
)

// TestMonitor_Outlook_SaysWhatIsMissing proves that too few data give no change,
// but a sentence that says how much more it takes, and that it then goes away.
func TestMonitor_Outlook_SaysWhatIsMissing(t *testing.T) {
	m := New(home.Cat{ID: "cat"}, Options{})
	out := m.Outlook(epoch)
	if out.Weight.Known || out.Month.Known || !strings.Contains(strings.Join(out.Unknown, " "), "21 days and 8 weighings more") {
		t.Errorf("of nothing: %+v", out)
	}
	weighings := newHousehold(4).weighings(400)
	watch(m, weighings[:12])
	out = m.Outlook(weighings[11].Time)
	if !out.Weight.Known || out.Month.Known || !strings.Contains(strings.Join(out.Unknown, " "), "days more of weighing") {
		t.Errorf("of twelve weighings: %+v", out)
	}
	watch(m, weighings[12:])
	out = m.Outlook(weighings[len(weighings)-1].Time)
	if !out.Month.Known || !out.Year.Known || len(out.Learned) == 0 || out.LastKg.IsZero() {
		t.Errorf("of a year: %+v", out)
	}
	if strings.Contains(strings.Join(out.Unknown, " "), "weight is changing") {
		t.Errorf("still unknown: %v", out.Unknown)
	}
}

// healthyLevel is what the generator's cat weighs on average, by day.
func fallOf(h *household, day float64) float64 { return -h.pace * max(0, day-h.onset) }

// TestMonitor_Outlook_MonthCovers proves that the 90 % interval of the change
// over 28 days holds the true one in most cats, in the midst of a fall too.
func TestMonitor_Outlook_MonthCovers(t *testing.T) {
	in, n := 0, 0
	for seed := range uint64(120) {
		h := newHousehold(unseenSeeds + seed)
		h.season, h.drift = 0, 0.02
		h.onset, h.pace = 150, float64(seed%3)*0.05
		w := h.weighings(220)
		m := New(home.Cat{ID: "cat"}, Options{})
		watch(m, w)
		out := m.Outlook(w[len(w)-1].Time)
		if !out.Month.Known {
			continue
		}
		n++
		want := percent(fallOf(h, 219.5) - fallOf(h, 191.5))
		if out.Month.Lo <= want && want <= out.Month.Hi {
			in++
		}
	}
	if share := float64(in) / float64(n); n < 100 || share < 0.8 {
		t.Errorf("the interval held the true change in %d of %d", in, n)
	}
}

// TestMonitor_Trend_BandHoldsTruth proves that the smoothed band holds the true
// weight on most days of a cat that fell.
func TestMonitor_Trend_BandHoldsTruth(t *testing.T) {
	h := newHousehold(unseenSeeds + 9)
	h.season, h.drift, h.onset, h.pace = 0, 0.01, 150, 0.05
	m := New(home.Cat{ID: "cat"}, Options{})
	watch(m, h.weighings(400))
	points := m.Trend()
	if len(points) < 200 {
		t.Fatalf("%d points", len(points))
	}
	in := 0
	for i, p := range points {
		if i > 0 && !p.Time.After(points[i-1].Time) || !(p.Lo < p.Value && p.Value < p.Hi) {
			t.Fatalf("point %d: %+v", i, p)
		}
		truth := h.base * math.Exp(fallOf(h, p.Time.Sub(epoch).Hours()/24+0.5)/100)
		if p.Lo*0.997 <= truth && truth <= p.Hi*1.003 {
			in++
		}
	}
	if in < len(points)*8/10 {
		t.Errorf("the band, with 0.3 %% leave for drift, holds the truth on %d of %d days", in, len(points))
	}
}

// TestMonitor_Open_MostUrgentFirst proves the order of what stands.
func TestMonitor_Open_MostUrgentFirst(t *testing.T) {
	m := New(home.Cat{ID: "cat"}, Options{})
	h := newHousehold(unseenSeeds + 1)
	h.onset, h.pace = 100, 0.1
	w := h.weighings(140)
	watch(m, w)
	end := w[len(w)-1].Time
	m.Step(Observation{Check: &home.HomeCheck{ID: "1", Cat: "cat", Time: end, RedFlags: []home.RedFlag{home.Collapse}}})
	open := m.Open()
	if len(open) != 2 || open[0].Sign != home.RedFlagSeen || open[1].Sign != home.WeightFalling {
		t.Errorf("open: %+v", open)
	}
}

// TestMonitor_Step_Foreign proves that what is not this cat's changes nothing.
func TestMonitor_Step_Foreign(t *testing.T) {
	m := New(home.Cat{ID: "cat"}, Options{})
	for _, o := range []Observation{
		{},
		{Weighing: &home.Weighing{Cat: "other", Time: epoch, Kg: 4}},
		{Count: &home.Reading{Cat: "other", Time: epoch}},
		{Check: &home.HomeCheck{Cat: "other", Time: epoch, RedFlags: home.RedFlags()}},
	} {
		if turned := m.Step(o); turned != nil {
			t.Errorf("%+v turned %+v", o, turned)
		}
	}
	if m.Outlook(epoch).Weight.Known {
		t.Error("the weight is known of nothing")
	}
}

// TestWeights_Plainly proves the second voice: a plain fall has a great negative
// z, a steady weight a small one, and too few data none.
func TestWeights_Plainly(t *testing.T) {
	zOf := func(pace float64, days int) float64 {
		h := newHousehold(unseenSeeds + 3)
		h.season, h.drift, h.onset, h.pace = 0, 0.01, 100, pace
		m := New(home.Cat{ID: "cat"}, Options{})
		watch(m, h.weighings(days))
		return m.weights.plainly(epoch.AddDate(0, 0, 100))
	}
	if z := zOf(0.15, 130); z > -3 {
		t.Errorf("z %.1f of a fall of 4.5 %%", z)
	}
	if z := zOf(0, 130); math.Abs(z) > 3 {
		t.Errorf("z %.1f of a steady weight", z)
	}
	if z := zOf(0, 3); !math.IsNaN(z) {
		t.Errorf("z %.1f of three days", z)
	}
}
