package app

import (
	"io"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
)

// Who waits for the start to be over is told once, when all that is derived was made
// anew, and not at every commit after that.
func TestApp_CaughtUp_Once(t *testing.T) {
	folder := t.TempDir()
	db := openStore(t, folder)
	seen := home.Reading{Source: "box-1", Quantity: home.Weight, Time: noon, Arrived: noon, Value: 4}
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper", WeightKg: 4}}}); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{seen}}); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	cfg, err := ParseConfig([]byte("data = \"" + filepath.Join(folder, "house.db") + "\"\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	told := make(chan int, 100)
	now := noon.AddDate(0, 0, 1)
	a, err := Start(t.Context(), cfg, Options{Now: func() time.Time { return now }, Round: time.Millisecond, Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
		CaughtUp: func() { told <- 1 }})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Stop()
	select {
	case <-told:
	case <-time.After(20 * time.Second):
		t.Fatal("nobody is told that the start is over")
	}
	visits, err := a.store.VisitsOf(t.Context(), "juniper", time.Time{}, time.Time{})
	if err != nil || len(visits) != 1 {
		t.Errorf("told before the visit was made: %v, %v", visits, err)
	}
	if _, err := a.store.Append(t.Context(), home.Batch{Readings: []home.Reading{{Source: "box-1", Quantity: home.Weight, Time: noon.Add(time.Hour), Arrived: now, Value: 4.02}}}); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(20 * time.Second); len(visits) < 2 && time.Now().Before(end); <-time.After(2 * time.Millisecond) {
		if visits, err = a.store.VisitsOf(t.Context(), "juniper", time.Time{}, time.Time{}); err != nil {
			t.Fatal(err)
		}
	}
	if len(visits) != 2 || len(told) != 0 {
		t.Errorf("%d visits, and told again %d times", len(visits), len(told))
	}
}
