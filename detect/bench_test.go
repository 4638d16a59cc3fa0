package detect

import (
	"fmt"
	"testing"
	"time"

	"weighbeam/home"
)

// BenchmarkMonitor_Replay is one million weighings, with a tick at each full hour
// between them: the time of an operation is the time of the million.
func BenchmarkMonitor_Replay(b *testing.B) {
	const million = 1_000_000
	weighings := newHousehold(3).weighings(20 * 365)
	rounds := million / len(weighings)
	b.ReportAllocs()
	for b.Loop() {
		for range rounds {
			replayHourly(New(home.Cat{ID: "cat"}, Options{}), weighings)
		}
	}
	b.ReportMetric(float64(rounds*len(weighings))/1e6, "Mweighings/op")
}

func replayHourly(m *Monitor, weighings []home.Weighing) {
	tick := epoch
	for i := range weighings {
		for ; !tick.After(weighings[i].Time); tick = tick.Add(time.Hour) {
			m.Tick(tick)
		}
		m.Step(Observation{Weighing: &weighings[i]})
	}
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
