package visit_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// loads samples f, kg at s seconds, at hz for d seconds.
func loads(hz, d float64, f func(s float64, i int) float64) []home.Reading {
	var out []home.Reading
	for i := 0; float64(i) < d*hz; i++ {
		s := float64(i) / hz
		out = append(out, home.Reading{Source: "box-1", Quantity: home.Load, Time: stamp(s), Value: f(s, i)})
	}
	return out
}

// flutter is noise of 4 g to either side in turn.
func flutter(i int) float64 { return 0.004 * float64(1-2*(i%2)) }

func TestLive_SaysWhetherTheLoadIsAtRest(t *testing.T) {
	placed := func(at float64) func(float64, int) float64 {
		return func(s float64, i int) float64 {
			if s < at {
				return 6 + flutter(i)
			}
			return 8 + flutter(i)
		}
	}
	onChangeOnly := []home.Reading{{Time: stamp(0), Value: 6}, {Time: stamp(20), Value: 7.1}, {Time: stamp(20.5), Value: 8}}
	for _, row := range []struct {
		name   string
		in     []home.Reading
		now    float64
		kg     float64 // of the rest; 0 for none
		moving string
	}{
		{"nothing", nil, 60, 0, "switched on"},
		// Ten times a second, with noise of its own.
		{"long at rest", loads(10, 60, placed(0)), 60, 8, ""},
		{"just put on", loads(10, 60, placed(57)), 60, 0, "moved by"},
		{"put on some time ago", loads(10, 60, placed(50)), 60, 8, ""},
		// A hand that still presses, ever less.
		{"a hand on it", loads(10, 60, func(s float64, i int) float64 { return 8 + 0.2*math.Sin(s) + flutter(i) }), 60, 0, "moved by"},
		// Steps of 50 g, between two of which the load flickers.
		{"coarse", loads(5, 60, func(s float64, i int) float64 { return 8 + 0.05*float64(i/7%2) }), 60, 8.025, ""},
		// A scale that sends on change only is at rest when it has said nothing for a while.
		{"on change, just now", onChangeOnly, 22, 0, "moved by"},
		{"on change, at rest", onChangeOnly, 40, 8, ""},
		{"on change, long ago", onChangeOnly, 700, 0, "nothing for"},
		// One that sends all the time and stops has failed.
		{"cut off", loads(10, 60, placed(0)), 75, 0, "now been silent"},
	} {
		got := visit.Live(row.in, stamp(row.now))
		if row.moving != "" {
			if len(got.Rest.Load) > 0 || !strings.Contains(got.Moving, row.moving) {
				t.Errorf("%s: %+v, want %q", row.name, got, row.moving)
			}
			continue
		}
		mean := 0.0
		for _, l := range got.Rest.Load {
			mean += l / float64(len(got.Rest.Load))
		}
		if got.Moving != "" || math.Abs(mean-row.kg) > 0.03 || got.Rest.To.Sub(got.Rest.From) < 5*time.Second {
			t.Errorf("%s: %+v, want a rest of %g kg", row.name, got, row.kg)
		}
	}
}

// A recorded span is read where nothing moved in it, and else says why it is not.
func TestRecorded_OfASpan(t *testing.T) {
	in := loads(10, 120, func(s float64, i int) float64 {
		if s > 60 {
			return 8 + flutter(i)
		}
		return 6 + flutter(i)
	})
	got, err := visit.Recorded(in, stamp(70), stamp(100))
	if err != nil || len(got.Load) != 31 && len(got.Load) != 30 || math.Abs(got.Load[3]-8) > 1e-9 || got.From != stamp(70) {
		t.Errorf("%+v, %v", got, err)
	}
	for _, span := range [][2]float64{{55, 65}, {900, 930}} {
		if got, err := visit.Recorded(in, stamp(span[0]), stamp(span[1])); err == nil || home.Hint(err) == "" {
			t.Errorf("%v: %+v", span, got)
		}
	}
}
