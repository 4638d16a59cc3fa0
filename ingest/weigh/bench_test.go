package weigh

import (
	"io"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
	"weighbeam/store"
)

// BenchmarkYear_OnDisk is a year of three cats on two scales that send five times a second
// while somebody is on them: what the store takes with all of its load, and once what is
// older than sixty days is let go.
func BenchmarkYear_OnDisk(b *testing.B) {
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	for b.Loop() {
		sim, err := simulator.New(simulator.Options{Seed: 3, Start: start, Days: 365, Cats: 3, Scales: 2})
		if err != nil {
			b.Fatal(err)
		}
		db, err := store.Open(b.Context(), filepath.Join(b.TempDir(), "house.db"))
		if err != nil {
			b.Fatal(err)
		}
		if err := db.SetHousehold(b.Context(), sim.Household()); err != nil {
			b.Fatal(err)
		}
		n, batch := 0, home.Batch{}
		put := func() {
			if _, err := db.Append(b.Context(), batch); err != nil {
				b.Fatal(err)
			}
			n, batch = n+len(batch.Readings), home.Batch{}
		}
		for r := range sim.Load() {
			if batch.Readings = append(batch.Readings, r); len(batch.Readings) == 5000 {
				put()
			}
		}
		put()
		end := start.AddDate(1, 0, 0)
		look := func(keep time.Duration) float64 {
			r := NewRunner(db, Options{Now: func() time.Time { return end }, Keep: keep, Driven: true, Log: slog.New(slog.NewTextHandler(io.Discard, nil))})
			for more := true; more; {
				if more, err = r.Round(b.Context()); err != nil {
					b.Fatal(err)
				}
			}
			return float64(db.Bytes()) / 1e6
		}
		all, kept := look(0), look(60*24*time.Hour)
		b.ReportMetric(float64(n), "readings")
		b.ReportMetric(all, "MB-a-year")
		b.ReportMetric(kept, "MB-after-60-days")
		if err := db.Close(); err != nil {
			b.Fatal(err)
		}
	}
}
