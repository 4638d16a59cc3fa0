package watch

import (
	"fmt"
	"slices"
	"testing"

	"weighbeam/detect"
)

// BenchmarkHouse_Sync_LateName is a visit of some days ago that gets another name, after
// a history of so many years: it must grow with them by no more than a copy of them takes.
func BenchmarkHouse_Sync_LateName(b *testing.B) {
	for _, years := range []int{1, 10, 20} {
		for _, days := range []int{1, 10, 40} {
			b.Run(fmt.Sprintf("%dyears/%ddays", years, days), func(b *testing.B) {
				obs := wellFor(365 * years)
				h := house()
				for _, o := range obs {
					h.Add("juniper", o)
				}
				now := obs[len(obs)-1].Time().Add(Lag)
				h.Advance(now)
				i := slices.IndexFunc(obs, func(o detect.Observation) bool { return o.Weighing != nil && o.Time().After(now.AddDate(0, 0, -days)) })
				last := *obs[i].Weighing
				b.ReportAllocs()
				for b.Loop() {
					last.Confidence = 1.5 - last.Confidence
					w := last
					h.Sync("juniper", w.Time, w.Time.Add(1), []detect.Observation{{Weighing: &w}})
					h.Advance(now)
				}
			})
		}
	}
}
