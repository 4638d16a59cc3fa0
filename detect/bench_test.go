package detect

import (
	"fmt"
	"testing"

	"weighbeam/home"
)

// BenchmarkMonitor_Replay is one million weighings of one household through one
// monitor each: the time of an operation is the time of the million.
func BenchmarkMonitor_Replay(b *testing.B) {
	const million = 1_000_000
	weighings := newHousehold(3).weighings(20 * 365)
	rounds := million / len(weighings)
	b.ReportAllocs()
	for b.Loop() {
		for range rounds {
			watch(New(home.Cat{ID: "cat"}, Options{}), weighings)
		}
	}
	b.ReportMetric(float64(rounds*len(weighings))/1e6, "Mweighings/op")
}

// BenchmarkMonitor_Step is one more weighing, on a new day, after a history of
// so many years: it must not grow with them.
func BenchmarkMonitor_Step(b *testing.B) {
	for _, years := range []int{1, 10, 20} {
		b.Run(fmt.Sprintf("%dyears", years), func(b *testing.B) {
			weighings := newHousehold(3).weighings(365 * years)
			m := New(home.Cat{ID: "cat"}, Options{})
			watch(m, weighings)
			next := weighings[len(weighings)-1]
			b.ReportAllocs()
			for b.Loop() {
				next.Time = next.Time.Add(oneDay)
				m.Step(Observation{Weighing: &next})
			}
		})
	}
}
