package visit

import (
	"math"
	"testing"
)

// An empty scale whose load moves a little and stays there, by less than anything that
// would be looked into: after a few samples the level is there, neither short of it nor
// beyond, and how sure it is stays a variance.
func TestBaseline_Observe_LevelThatMoved(t *testing.T) {
	for _, step := range []float64{-8, -2, 2, 8, 40} {
		var b baseline
		b.startAt(0, 5000, 0.5, 1e-4)
		ns := int64(0)
		sample := func(g float64) {
			ns += 10e9
			b.observe(ns, g, 0.04, 10)
			if !(b.P00 > 0) || math.IsNaN(b.Level) {
				t.Fatalf("step %v: %+v", step, b)
			}
			if lo, hi := min(5000, 5000+step)-1, max(5000, 5000+step)+1; b.Level < lo || b.Level > hi {
				t.Fatalf("step %v: the level is %.1f g, outside of all that was measured", step, b.Level-5000)
			}
		}
		for range 100 {
			sample(5000)
		}
		for range 6 {
			sample(5000 + step)
		}
		if off := b.Level - (5000 + step); math.Abs(off) > 0.5 {
			t.Errorf("step %v: after six samples the level is off by %.2f g", step, off)
		}
	}
}
