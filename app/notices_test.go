package app

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
)

// What a scale sends is never taken for a notice that came back: nobody can be told
// where a scale listens, and where the settings say so all the same the scale wins.
func TestSieve_TopicOfAScale_LosesNoReading(t *testing.T) {
	a := startTold(t, filepath.Join(t.TempDir(), "house.db"), "[[topic]]\nname = \"lamp\"\ntopic = \"home/said\"\n")
	box := home.Scale{ID: "box-1", Kind: home.LitterBox, Topic: "home/litter/1", Payload: "number", Unit: "kg"}
	crossed := box
	crossed.Topic = "home/+"
	reader := box
	reader.TagTopic, reader.TagPayload = "home/said", "json:/tag"
	for _, h := range []home.Household{
		{Scales: []home.Scale{box}, Contacts: []home.Contact{{ID: "ada", Way: home.ByTopic, To: "home/litter/1"}}},
		{Scales: []home.Scale{crossed}},
		{Scales: []home.Scale{reader}},
	} {
		if err := a.SetHousehold(t.Context(), h); err == nil || !strings.Contains(err.Error(), "where the scale box-1 listens") || home.Hint(err) == "" {
			t.Errorf("%+v: %v", h, err)
		}
	}
	if err := a.SetHousehold(t.Context(), home.Household{Scales: []home.Scale{box}}); err != nil {
		t.Fatal(err)
	}
	deliver := func(topic, payload string) {
		t.Helper()
		done := make(chan error, 1)
		d := ingest.Delivery{Way: ingest.WayBroker, Topic: topic, Payload: []byte(payload), Settle: func(err error) { done <- err }}
		if err := a.sink().Deliver(t.Context(), d); err != nil {
			t.Fatal(err)
		}
		if err := <-done; err != nil {
			t.Fatal(err)
		}
	}
	// A notice that comes back is let go, and counted.
	deliver("home/said", `{"subject": "x"}`)
	if got := a.appender.Counts()[ingest.WayBroker]; got.Received != 0 || a.echoes.Load() != 1 {
		t.Errorf("taken in: %+v; let go: %d", got, a.echoes.Load())
	}
	// As after a start with settings that say so.
	if err := a.router.SetHousehold(home.Household{Scales: []home.Scale{crossed}}); err != nil {
		t.Fatal(err)
	}
	deliver("home/said", "4.5")
	got, err := a.store.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || a.echoes.Load() != 1 {
		t.Errorf("stored %+v, %v; let go: %d", got, err, a.echoes.Load())
	}
}
