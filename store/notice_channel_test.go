package store

import (
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

// What is remembered of a channel is the newest, each with its times.
func TestDB_SaveChannel_KeepsTheNewest(t *testing.T) {
	db := fresh(t)
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	want := []home.ChannelRecord{{Channel: "ada", Took: noon, Failed: noon.Add(-home.TimeStep), Since: noon.Add(-time.Hour), Why: "it was down"}, {Channel: "bob"}}
	for _, r := range append([]home.ChannelRecord{{Channel: "ada", Failed: noon, Why: "old"}}, want...) {
		if err := db.SaveChannel(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	got, err := db.Channels(t.Context())
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("%+v, %v", got, err)
	}
}
