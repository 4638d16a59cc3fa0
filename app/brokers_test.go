package app

import (
	"path/filepath"
	"slices"
	"testing"

	"weighbeam/home"
	"weighbeam/ingest/mqtt/mqtttest"
)

// A scale that speaks outside of what the settings subscribe to is heard from the moment
// at which the household names it, after a start as well, and no longer than that.
func TestApp_ScaleOutsideOfTheTopics_IsSubscribedTo(t *testing.T) {
	m, data := mqtttest.Start(t), filepath.Join(t.TempDir(), "house.db")
	settings := "[mqtt]\nserver = \"mqtt://" + m.Addr() + "\"\ntopics = [\"home/#\"]\n"
	a := startTold(t, data, settings)
	holds := func(what string, want ...string) {
		t.Helper()
		waits(t, what, func() bool { h := a.session.Load().Health(); return h.Connected && slices.Equal(h.Subscribed, want) })
	}
	holds("the topics of the settings", "home/#")
	h := home.Household{Scales: []home.Scale{{ID: "a", Kind: home.Floor, Topic: "garage/scale", TagTopic: "garage/tag", TagPayload: "number"},
		{ID: "b", Kind: home.Floor, Topic: "home/b"}, {ID: "c", Kind: home.Floor, Topic: "garage/scale"}, {ID: "d", Kind: home.Floor}}}
	if err := a.SetHousehold(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	holds("the scale in the garage", "garage/scale", "garage/tag", "home/#")
	a.Stop()
	a = startTold(t, data, settings)
	holds("after a start", "garage/scale", "garage/tag", "home/#")
	if err := a.SetHousehold(t.Context(), home.Household{}); err != nil {
		t.Fatal(err)
	}
	holds("without the scale", "home/#")
}
