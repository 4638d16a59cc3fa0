package simulator_test

import (
	"testing"
	"time"

	"weighbeam/simulator"
)

// BenchmarkHouse_Load makes raw samples, ns each.
func BenchmarkHouse_Load(b *testing.B) {
	start := time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name string
		o    simulator.Options
	}{
		{"plain", simulator.Plain(1, start, 3000)},
		{"hard", simulator.Hard(1, start, 3000)},
		{"80hz", simulator.Options{Seed: 1, Start: start, Days: 3000, Cats: 3, Scales: 2, Devices: []simulator.Device{simulator.EightyHertz()}}},
	} {
		b.Run(c.name, func(b *testing.B) {
			h := house(b, c.o)
			b.ReportAllocs()
			n := 0
			for range h.Live(start) {
				if n++; n == b.N {
					break
				}
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}

// BenchmarkHouse_Settled makes settled weights and counts, ns each.
func BenchmarkHouse_Settled(b *testing.B) {
	start := time.Date(2000, 3, 1, 0, 0, 0, 0, time.UTC)
	h := house(b, simulator.Options{Seed: 1, Start: start, Days: 366 * 50, Cats: simulator.MaxCats, Scales: 4, Faults: simulator.AllFaults})
	b.ReportAllocs()
	for n := 0; n < b.N; {
		for range h.Settled() {
			if n++; n == b.N {
				break
			}
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkHouse_Live starts a demo after eight months, ns a start.
func BenchmarkHouse_Live(b *testing.B) {
	for range b.N {
		for range simulator.Demo(1, demoEnd).Live(demoEnd) {
			break
		}
	}
}
