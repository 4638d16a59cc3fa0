package detect

import (
	"math"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// drawnHistory is some cat's history: falling, rising or steady, with checks.
func drawnHistory(t *rapid.T) []home.Weighing {
	h := newHousehold(rapid.Uint64Range(0, 1<<40).Draw(t, "seed"))
	h.onset = rapid.Float64Range(0, 200).Draw(t, "onset")
	h.pace = rapid.Float64Range(-0.3, 0.4).Draw(t, "pace")
	return h.weighings(rapid.IntRange(1, 320).Draw(t, "days"))
}

// turnsOf is what the history gave, to be compared.
func turnsOf(weighings []home.Weighing) []home.Transition {
	return watch(New(home.Cat{ID: "cat"}, Options{}), weighings)
}

// TestMonitor_Property_Units proves that weighing in pounds changes nothing but
// the two levels: same turns, same times, same percentages.
func TestMonitor_Property_Units(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawnHistory(t)
		scale := rapid.SampledFrom([]float64{2.2046226218, 0.5, 3.7}).Draw(t, "scale")
		scaled := slices.Clone(in)
		for i := range scaled {
			scaled[i].Kg *= scale
		}
		a, b := turnsOf(in), turnsOf(scaled)
		if len(a) != len(b) {
			t.Fatalf("%d turns and %d", len(a), len(b))
		}
		for i := range a {
			f, g := a[i].Finding, b[i].Finding
			if a[i].Turn != b[i].Turn || !a[i].At.Equal(b[i].At) || f.Sign != g.Sign || f.Urgency != g.Urgency || !f.Onset.Equal(g.Onset) ||
				math.Abs(f.ChangePct-g.ChangePct) > 1e-6 || math.Abs(f.Rate-g.Rate) > 1e-6 || math.Abs(f.Before*scale-g.Before) > 1e-6*g.Before {
				t.Fatalf("turn %d: %+v and %+v", i, f, g)
			}
		}
	})
}

// TestMonitor_Property_Duplicates proves that a weighing delivered again, at once
// or later that day, changes nothing.
func TestMonitor_Property_Duplicates(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawnHistory(t)
		every := rapid.IntRange(1, 5).Draw(t, "every")
		var twice []home.Weighing
		for i, w := range in {
			twice = append(twice, w)
			if i%every == 0 {
				twice = append(twice, w)
			}
			if i > 0 && i%(every+1) == 0 && dayOf(in[i-1].Time) == dayOf(w.Time) {
				twice = append(twice, in[i-1])
			}
		}
		if a, b := turnsOf(in), turnsOf(twice); !reflect.DeepEqual(a, b) {
			t.Fatalf("%d turns and %d", len(a), len(b))
		}
	})
}

// TestMonitor_Property_Rebuilt proves that a restart changes nothing: a monitor
// made again from the history at any moment goes on with the same turns.
func TestMonitor_Property_Rebuilt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := drawnHistory(t)
		cut := rapid.IntRange(0, len(in)).Draw(t, "cut")
		whole := turnsOf(in)
		for _, tr := range whole {
			if f := tr.Finding; math.IsNaN(f.After + f.ChangePct + f.Confidence) {
				t.Fatalf("not a number: %+v", f)
			}
		}
		before := turnsOf(in[:cut])
		again := New(home.Cat{ID: "cat"}, Options{})
		rest := watch(again, in)
		if !reflect.DeepEqual(whole, rest) || len(before) > 0 && !reflect.DeepEqual(whole[:len(before)], before) {
			t.Fatalf("%d turns, %d before the cut, %d after a restart", len(whole), len(before), len(rest))
		}
	})
}

// TestMonitor_Property_FindingIsWhole proves that every finding says what it
// must: figures before and after, since when, a pace with an interval around it,
// how sure, on how much, what would make it wrong, and a text.
func TestMonitor_Property_FindingIsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, tr := range turnsOf(drawnHistory(t)) {
			f := tr.Finding
			if f.Cat != "cat" || f.Sign == "" || f.Urgency.Rank() == 0 || f.Raised.IsZero() || f.Text == "" || len(f.Warnings) == 0 || f.Data == 0 {
				t.Fatalf("%+v lacks something", f)
			}
			for _, v := range []float64{f.ChangePct, f.Rate, f.RateLo, f.RateHi, f.Before, f.After, f.Confidence} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v has a figure that is none", f)
				}
			}
			if f.Onset.After(tr.At) || f.OnsetLo.After(f.Onset) || f.OnsetHi.Before(f.Onset) {
				t.Fatalf("onset %v in %v to %v, told %v", f.Onset, f.OnsetLo, f.OnsetHi, tr.At)
			}
			if lo, hi := min(f.RateLo, f.RateHi), max(f.RateLo, f.RateHi); f.RateUnit != "" && (f.Rate < lo || f.Rate > hi || f.RateLo > f.RateHi) {
				t.Fatalf("pace %v in %v to %v", f.Rate, f.RateLo, f.RateHi)
			}
			if (tr.Turn == home.Closed) != (f.Reason != "") {
				t.Fatalf("%s with the reason %q", tr.Turn, f.Reason)
			}
		}
	})
}

// TestMonitor_Property_Lives proves the order of a finding's turns: raised once,
// closed at most once and last, urgency moving as the turn says.
func TestMonitor_Property_Lives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		open := map[home.Sign]home.Finding{}
		var last time.Time
		for _, tr := range turnsOf(drawnHistory(t)) {
			was, isOpen := open[tr.Finding.Sign]
			if tr.At.Before(last) || (tr.Turn == home.Raised) == isOpen || isOpen && was.ID() != tr.Finding.ID() {
				t.Fatalf("%s of %s out of order", tr.Turn, tr.Finding.ID())
			}
			if d := tr.Finding.Urgency.Rank() - was.Urgency.Rank(); tr.Turn == home.Worsened && d <= 0 || tr.Turn == home.Eased && d >= 0 {
				t.Fatalf("%s with the urgency moved by %d", tr.Turn, d)
			}
			last, open[tr.Finding.Sign] = tr.At, tr.Finding
			if tr.Turn == home.Closed {
				delete(open, tr.Finding.Sign)
			}
		}
	})
}

// TestMonitor_Property_Junk proves that no weighing, however odd, makes a figure
// that is none, or a panic: odd masses, uncertainties, confidences and times.
func TestMonitor_Property_Junk(t *testing.T) {
	odd := rapid.SampledFrom([]float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1), 1e-300, 1e300, 4, 4.1, 4.2, 0.3, 25})
	rapid.Check(t, func(t *rapid.T) {
		m := New(home.Cat{ID: "cat", Born: epoch.AddDate(0, -rapid.IntRange(0, 40).Draw(t, "months"), 0)}, Options{})
		now := epoch
		for range rapid.IntRange(1, 120).Draw(t, "n") {
			now = now.Add(time.Duration(rapid.IntRange(-3, 60).Draw(t, "hours")) * time.Hour)
			w := home.Weighing{Cat: "cat", Time: now, Kg: odd.Draw(t, "kg"), SDKg: odd.Draw(t, "sd"), Confidence: odd.Draw(t, "confidence"),
				Source: rapid.SampledFrom([]string{"a", "b", "c", "d", "e", "f", "g", "h", "hand", "clinic"}).Draw(t, "source")}
			for _, tr := range append(m.Step(Observation{Weighing: &w}), m.Tick(now.Truncate(time.Hour))...) {
				f := tr.Finding
				if math.IsNaN(f.ChangePct+f.Rate+f.Before+f.After+f.Confidence) || f.Text == "" {
					t.Fatalf("%+v", f)
				}
			}
		}
		out := m.Outlook(now)
		if out.Weight.Known && !(out.Weight.Lo <= out.Weight.Value && out.Weight.Value <= out.Weight.Hi) {
			t.Fatalf("outlook %+v", out.Weight)
		}
		for _, p := range m.Trend() {
			if math.IsNaN(p.Value + p.Lo + p.Hi) {
				t.Fatalf("trend %+v", p)
			}
		}
	})
}

// TestMonitor_Step_AllButSurelyAnother proves that a name too unlikely to be
// divided by makes no figure that is none: drawn once by the test above.
func TestMonitor_Step_AllButSurelyAnother(t *testing.T) {
	m := New(home.Cat{ID: "cat", Born: epoch}, Options{})
	for i, kg := range []float64{30, 0.1, 0.1, 0.1, 0.1} {
		at := epoch.Add(time.Duration(i) * 24 * time.Hour)
		w := home.Weighing{Cat: "cat", Time: at, Kg: kg, Confidence: 1e-300, Source: "a"}
		for _, tr := range append(m.Step(Observation{Weighing: &w}), m.Tick(at.AddDate(0, 0, 1))...) {
			if math.IsNaN(tr.Finding.Confidence + tr.Finding.After) {
				t.Fatalf("%+v", tr.Finding)
			}
		}
	}
	if now := m.Outlook(epoch.AddDate(0, 0, 6)); now.Weight.Known {
		t.Fatalf("a weight is known of weighings that were another cat's: %+v", now.Weight)
	}
}
