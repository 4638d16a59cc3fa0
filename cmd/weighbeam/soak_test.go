package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/simulator"
)

// A busy house for days on end, at about a thousand times the speed of life, with a page
// looked at in each hour: once everything has been in use for a while, no goroutine and
// no file is left over, memory stays where it is, and the store grows by what each day
// brings.
func TestServe_DaysInASoak(t *testing.T) {
	t.Parallel()
	unraced(t)
	days, slack := 2, 30e6 // of memory
	if long() {
		days, slack = 56, 20e6
	}
	began := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)
	sim, err := simulator.New(simulator.Options{Seed: 9, Start: began, Days: days, Cats: 4, Scales: 3})
	if err != nil {
		t.Fatal(err)
	}
	data := filepath.Join(t.TempDir(), "house.db")
	h := startTimed(t, data, troubledSettings(t, data, sim.Household(), ""), began)
	end := began.Add(5 * time.Minute)
	var rows []string
	var early, late map[string]float64
	samples, started := 0, time.Now()
	for r := range sim.Load() {
		for r.Time.After(end) {
			h.set(end)
			h.post(rows)
			samples, rows = samples+len(rows), nil
			if end.Minute() == 0 {
				h.settle()
				for _, path := range []string{"/", "/cats/" + sim.Household().Cats[0].ID, "/sources/" + r.Source} {
					if status, body := get(h.url + path); status != 200 {
						t.Fatalf("%s: %d\n%s", path, status, body)
					}
				}
				late, _ = look(t, h.url)
			}
			if end.Equal(began.Add(time.Duration(days) * 8 * time.Hour).Truncate(time.Hour)) {
				early = late
			}
			end = end.Add(5 * time.Minute)
		}
		rows = append(rows, fmt.Sprintf("%s,%s,load,%s,kg", r.Time.Format(time.RFC3339Nano), r.Source, fmt.Sprint(r.Value)))
	}
	took := time.Since(started)
	info, err := os.Stat(data)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d days, %d samples in %v (%.0f times the speed of life); after a third and at the end: goroutines %.0f and %.0f, files %.0f and %.0f, memory %.1f and %.1f MB; %.1f MB on disk, %.0f bytes a sample",
		days, samples, took.Round(time.Second), float64(days)*86400/took.Seconds(), early["go_goroutines"], late["go_goroutines"], early["process_open_fds"], late["process_open_fds"],
		early["process_resident_memory_bytes"]/1e6, late["process_resident_memory_bytes"]/1e6, float64(info.Size())/1e6, float64(info.Size())/float64(samples))
	// A few come and go with what is asked; hundreds of hours would leave hundreds.
	if late["go_goroutines"] > early["go_goroutines"]+30 || late["process_open_fds"] > early["process_open_fds"]+10 {
		t.Error("something is left over each time")
	}
	if early["process_resident_memory_bytes"] == 0 || late["process_resident_memory_bytes"] > early["process_resident_memory_bytes"]+slack {
		t.Error("memory grows")
	}
	if perDay := float64(info.Size()) / float64(days); perDay > 3e6 {
		t.Errorf("%.1f MB a day on disk", perDay/1e6)
	}
}
