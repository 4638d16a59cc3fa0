package visit_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// piece is a stretch of a trace with a known load: its length in s, the load in
// g over the empty box at its start and end, and a sway of alternating sign whose
// mean is nought, so that every answer follows by hand.
type piece struct{ last, from, to, sway float64 }

func still(last, g, sway float64) piece { return piece{last, g, g, sway} }
func ramp(last, from, to float64) piece { return piece{last, from, to, 0} }

// trace samples pieces at hz on a box of 6 kg, after ten minutes of nothing.
func trace(hz float64, pieces ...piece) []loadSample {
	var out []loadSample
	at, k := 0.0, 0
	for _, p := range append([]piece{still(600, 0, 1)}, pieces...) {
		for s := 0.0; s < p.last-1e-9; s += 1 / hz {
			sign := float64(1 - 2*(k%2))
			g := p.from + (p.to-p.from)*s/p.last + sign*p.sway
			out = append(out, loadSample{stamp(at + s), (6000 + g) / 1000})
			k++
		}
		at += p.last
	}
	return out
}

// without leaves out what was sampled from a to b, in s of the trace.
func without(in []loadSample, a, b float64) []loadSample {
	var out []loadSample
	for _, l := range in {
		if s := l.at.Sub(stamp(0)).Seconds(); s < a || s >= b {
			out = append(out, l)
		}
	}
	return out
}

// with changes each sample.
func with(in []loadSample, f func(s, g float64) float64) []loadSample {
	out := make([]loadSample, len(in))
	for i, l := range in {
		out[i] = loadSample{l.at, f(l.at.Sub(stamp(0)).Seconds(), l.kg*1000) / 1000}
	}
	return out
}

// onChange is what a scale with a dead band sends of a trace.
func onChange(in []loadSample, band, beat float64) []loadSample {
	var out []loadSample
	for _, l := range in {
		n := len(out)
		if n == 0 || math.Abs(l.kg-out[n-1].kg)*1000 > band || l.at.Sub(out[n-1].at).Seconds() >= beat {
			out = append(out, l)
		}
	}
	return out
}

// cat is a visit in two parts each way, of m grams that leaves d.
func cat(m, d float64) []piece {
	return []piece{
		ramp(0.4, 0, 0.45*m), still(0.8, 0.45*m, 20), ramp(0.4, 0.45*m, m),
		still(40, m, 25),
		ramp(0.4, m, 0.5*m), still(0.8, 0.5*m, 20), ramp(0.4, 0.5*m, d),
		still(400, d, 1),
	}
}

func follow(kind home.Kind, in []loadSample) []home.Visit {
	tr := visit.New(kind)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	for _, l := range in {
		tr.Step(l.at, l.kg, emit)
	}
	tr.Tick(in[len(in)-1].at.Add(time.Hour), emit)
	return got
}

// answer is what an event must be; NaN stands for nothing measured.
type answer struct {
	event          home.Event
	mass, massOff  float64 // g
	left, leftOff  float64 // g
	because        string  // a reason that must be named
	seconds, until float64 // length in s, and how far off it may be; 0 for any
}

var none = math.NaN()

func check(t *testing.T, name string, got []home.Visit, want ...answer) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d events, want %d: %+v", name, len(got), len(want), got)
		return
	}
	for i, a := range want {
		v := got[i]
		switch {
		case v.Event != a.event:
			t.Errorf("%s: event %d is %q, want %q: %+v", name, i, v.Event, a.event, v)
		case v.Event == home.CatVisit && math.Abs(v.MassKg*1000-a.mass) > a.massOff:
			t.Errorf("%s: mass %.1f g (SD %.1f), want %.1f within %.1f", name, v.MassKg*1000, v.SDKg*1000, a.mass, a.massOff)
		case v.Event != home.CatVisit && v.MassKg != 0:
			t.Errorf("%s: a %s with a mass of %.3f kg", name, v.Event, v.MassKg)
		case math.IsNaN(a.left) && v.HasLeft:
			t.Errorf("%s: left %.1f g, want none measured", name, v.LeftG)
		case !math.IsNaN(a.left) && (!v.HasLeft || math.Abs(v.LeftG-a.left) > a.leftOff):
			t.Errorf("%s: left %.1f g (SD %.1f, measured %v), want %.1f within %.1f", name, v.LeftG, v.LeftSDG, v.HasLeft, a.left, a.leftOff)
		case a.because != "" && !strings.Contains(strings.Join(v.Reasons, " "), a.because):
			t.Errorf("%s: reasons %q, want %q among them", name, v.Reasons, a.because)
		case a.seconds > 0 && math.Abs(v.End.Sub(v.Start).Seconds()-a.seconds) > a.until:
			t.Errorf("%s: lasted %v, want %.1f s within %.1f", name, v.End.Sub(v.Start), a.seconds, a.until)
		}
	}
}

func join(parts ...[]piece) (out []piece) {
	for _, p := range parts {
		out = append(out, p...)
	}
	return out
}
