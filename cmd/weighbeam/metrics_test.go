package main

import (
	"bufio"
	"strconv"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// look reads /metrics once. Whoever looks, whenever: what came in by each way is
// stored, a duplicate or set aside.
func look(t *testing.T, url string) (values map[string]float64, text string) {
	t.Helper()
	_, text = get(url + "/metrics")
	values = map[string]float64{}
	for s := bufio.NewScanner(strings.NewReader(text)); s.Scan(); {
		name, value, ok := strings.Cut(s.Text(), "} ")
		if name += "}"; !ok {
			name, value, _ = strings.Cut(s.Text(), " ")
		}
		if v, err := strconv.ParseFloat(value, 64); err == nil && !strings.HasPrefix(name, "#") {
			values[name] = v
		}
	}
	for name, received := range values {
		way, ok := strings.CutPrefix(name, "weighbeam_readings_received_total")
		if !ok {
			continue
		}
		of := func(what string) float64 { return values["weighbeam_readings_"+what+"_total"+way] }
		if sum := of("stored") + of("duplicate") + of("set_aside"); sum != received {
			t.Errorf("%s: received %g, but stored, duplicate and set aside are %g", way, received, sum)
		}
	}
	return values, text
}

// metric waits for a line of /metrics.
func metric(t *testing.T, url, line string) {
	t.Helper()
	eventually(t, line, func() (bool, string) {
		_, text := look(t, url)
		return strings.Contains(text, line+"\n"), text
	})
}

// storedOf is what a stopped program has of a source, whose store must be sound.
func storedOf(t *testing.T, data, source string, q home.Quantity) []home.Reading {
	t.Helper()
	db, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(t.Context()); err != nil {
		t.Error(err)
	}
	readings, err := db.Readings(t.Context(), source, q, time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return readings
}
