package store

import (
	"context"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

var t0 = time.Date(2025, 3, 3, 4, 5, 6, 789012000, time.UTC)

// open opens a store that is checked for integrity when the test ends.
func open(t *testing.T, path string) *DB {
	t.Helper()
	db, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Check(context.Background()); err != nil && !strings.Contains(err.Error(), "closed") {
			t.Errorf("integrity after the test: %v", err)
		}
		if err := db.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return db
}

func fresh(t *testing.T) *DB {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "house.db"))
}

func weight(at time.Time, seq int64, kg float64) home.Reading {
	return home.Reading{Source: "box-1", Quantity: home.Weight, Time: at, Seq: seq, Value: kg,
		Arrived: at.Add(time.Second), Clock: home.ByDevice}
}

func numbered(at time.Time, seq int64, kg float64) home.Reading {
	r := weight(at, seq, kg)
	r.Clock, r.Arrived = home.ByArrival, at
	return r
}

func count(at time.Time, cat string, n float64) home.Reading {
	return home.Reading{Source: home.Hand, Quantity: home.Breaths, Time: at, Value: n, Cat: cat,
		Window: 30 * time.Second, State: home.Asleep, Note: "on the sofa", Arrived: at, Clock: home.ByHand}
}

func window(r home.Reading, d time.Duration) home.Reading {
	r.Window = d
	return r
}

func state(r home.Reading, s home.State) home.Reading {
	r.State = s
	return r
}

func retained(r home.Reading) home.Reading {
	r.Retained = true
	return r
}
