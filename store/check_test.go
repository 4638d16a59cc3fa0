package store

import (
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

func check(id string) home.HomeCheck {
	return home.HomeCheck{ID: id, Cat: "juniper", Time: t0.Truncate(time.Second), By: "Ada", Note: "purring",
		RedFlags: []home.RedFlag{home.Straining}, Readings: []home.Reading{count(t0.Truncate(time.Second), "juniper", 11)}}
}

func TestDB_Checks_RoundTrip(t *testing.T) {
	db := fresh(t)
	want := check("c1")
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{want}}); err != nil {
		t.Fatal(err)
	}
	got, err := db.Checks(t.Context(), "juniper", time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Errorf("got %+v, %v\nwant %+v", got, err, want)
	}
	if got, err := db.Checks(t.Context(), "nobody", time.Time{}, time.Time{}); err != nil || len(got) != 0 {
		t.Errorf("a cat never seen: got %v, %v", got, err)
	}
}
