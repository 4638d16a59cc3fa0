package ingest_test

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
)

// A reader speaks on a topic of its own, or on the scale's; two readers on one topic
// cannot be told apart.
func TestRouter_Decode_TagReaders(t *testing.T) {
	h := home.Household{Scales: []home.Scale{
		{ID: "box-1", Kind: home.LitterBox, Topic: "box/1", Payload: "number", TagTopic: "tags/1"},
		{ID: "box-2", Kind: home.LitterBox, Topic: "box/2", Payload: "number", TagTopic: "box/2", TagPayload: "number"},
		{ID: "box-3", Kind: home.LitterBox, Topic: "box/3", Payload: "json:/w", TagTopic: "tags/+/all", TagPayload: "json:/tag"},
		{ID: "box-4", Kind: home.LitterBox, TagTopic: "tags/4/all"},
	}}
	r, err := ingest.NewRouter(h)
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		topic, text string
		want        string // quantity and source, or part of the error
	}{
		{"tags/1", "985112004567890", "tag box-1"},
		{"box/1", "9.4", "load box-1"},
		// On one topic a payload is of either, by what it holds.
		{"box/2", "985112004567890", "tag box-2"},
		{"box/2", "9.4", "load box-2"},
		{"box/2", "hello", "no number"},
		{"tags/3/all", `{"tag":"985112004567890"}`, "tag box-3"},
		{"tags/4/all", "985112004567890", "more than one"},
		{"tags/1", "nobody", "15 digits"},
	} {
		got, err := r.Decode(ingest.Delivery{Way: ingest.WayMQTT, Topic: row.topic, Payload: []byte(row.text), Arrived: time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)})
		said := ""
		if err != nil {
			said = err.Error()
		}
		for _, one := range got {
			said += string(one.Quantity) + " " + one.Source
		}
		if !strings.Contains(said, row.want) || len(got) > 1 {
			t.Errorf("%s %s: %s, want %s", row.topic, row.text, said, row.want)
		}
	}
	if c := r.Claimants("tags/1"); len(c) != 1 || c[0].ID != "box-1" {
		t.Errorf("claimed by %+v", c)
	}
	h.Scales[0].TagTopic = "a/#/b"
	if err := r.SetHousehold(h); err == nil {
		t.Error("a topic that is no filter was taken")
	}
	h.Scales[0].TagTopic, h.Scales[0].TagPayload = "tags/1", "hex"
	if err := r.SetHousehold(h); err == nil {
		t.Error("an unknown payload was taken")
	}
}
