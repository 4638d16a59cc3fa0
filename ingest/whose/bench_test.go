package whose

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkAssigner_Step gives the time a visit takes: in a plain house, and in
// one where two cats are hard to tell and a third crosses both.
func BenchmarkAssigner_Step(b *testing.B) {
	for _, c := range []struct {
		name string
		make func(*rand.Rand) world
	}{{"plain", plain}, {"hard", hard}} {
		b.Run(c.name, func(b *testing.B) {
			r := rand.New(rand.NewPCG(3, 1))
			w := c.make(r)
			stays := w.live(r)
			a, i := New(w.household()), 0
			b.ReportAllocs()
			for b.Loop() {
				if i == len(stays) {
					a, i = New(w.household()), 0
				}
				a.Step(stays[i].visit)
				i++
			}
		})
	}
}
