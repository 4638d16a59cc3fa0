package ingest_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/store"
)

// A scale without a clock, read in a wrong way, sends the same weight several times: each
// was acknowledged, and each is a reading once it can be read, as of when it came.
func TestAppender_Retry_EachArrival(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	h := home.Household{Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox, Topic: "box", Payload: "json:/weight", Sends: home.Weight}}}
	router, err := ingest.NewRouter(h)
	if err != nil {
		t.Fatal(err)
	}
	a := ingest.NewAppender(db, router, ingest.Options{Log: quiet()})
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() { a.Run(ctx); close(done) }()
	t.Cleanup(func() { cancel(); <-done; db.Close() })

	send := func(payload string, hours int, retained bool) {
		t.Helper()
		settled := make(chan error, 1)
		d := ingest.Delivery{Way: ingest.WayMQTT, Topic: "box", Payload: []byte(payload), Arrived: morning.Add(time.Duration(hours) * time.Hour),
			Retained: retained, Settle: func(err error) { settled <- err }}
		if err := a.Deliver(t.Context(), d); err != nil {
			t.Fatal(err)
		}
		if err := <-settled; err != nil {
			t.Fatal(err)
		}
	}
	for _, hours := range []int{0, 8, 16, 24, 32} {
		send(`{"w":4.51}`, hours, false)
	}
	send(`{"w":4.51}`, 33, true) // the broker's copy of the last, at a new start
	send(`{"w":4.52}`, 40, false)
	if got, err := a.Retry(t.Context(), db, "#"); err != nil || got.Tried != 2 || got.Read != 0 {
		t.Fatalf("before anything has changed: %+v, %v", got, err)
	}
	h.Scales[0].Payload = "json:/w"
	if err := router.SetHousehold(h); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second time nothing is left but the copy, which does not say when it was true
		if _, err := a.Retry(t.Context(), db, "#"); err != nil {
			t.Fatal(err)
		}
		readings, err := db.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
		if err != nil || len(readings) != 6 || !readings[3].Time.Equal(morning.Add(24*time.Hour)) || readings[3].Value != 4.51 || readings[5].Value != 4.52 {
			t.Fatalf("%+v, %v", readings, err)
		}
		left, err := db.SetAsides(t.Context(), 10)
		if err != nil || len(left) != 1 || !left[0].Retained {
			t.Fatalf("there waits %+v, %v", left, err)
		}
	}
	for way, c := range a.Counts() {
		if c.Received != c.Stored+c.Duplicate+c.SetAside {
			t.Errorf("%s: %+v does not add up", way, c)
		}
	}
}
