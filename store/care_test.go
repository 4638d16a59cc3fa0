package store

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

func event(id string, k home.CareKind, from, until time.Time) home.Care {
	return home.Care{ID: id, Cat: "juniper", Kind: k, From: from, Until: until, Words: "w", Told: from, By: "Ada"}
}

func ids(all []home.Care) string {
	var s []string
	for _, c := range all {
		s = append(s, c.ID)
	}
	return strings.Join(s, " ")
}

func TestDB_Care_Range(t *testing.T) {
	db := fresh(t)
	day := func(n int) time.Time { return t0.AddDate(0, 0, n).Truncate(home.TimeStep) }
	plan := event("plan", home.PlanAgreed, day(5), time.Time{})
	plan.Plan = &home.Plan{From: day(5), TargetKg: 4}
	all := []home.Care{event("away", home.Away, day(0), day(4)), plan, event("visit", home.VetVisit, day(6), time.Time{})}
	batch := home.Batch{Care: append(all, home.Care{ID: "other", Cat: "moss", Kind: home.VetVisit, From: day(6), Told: day(6)})}
	for n, want := range []home.Tally{{Stored: 4}, {Duplicate: 4}} {
		if got, err := db.Append(t.Context(), batch); err != nil || got != want {
			t.Fatalf("sent %d times: %+v, %v", n+1, got, err)
		}
	}
	for _, row := range []struct {
		name     string
		from, to time.Time
		want     string
	}{
		{"all", time.Time{}, time.Time{}, "away plan visit"},
		// What began before still holds; what has no end holds on.
		{"inside a span", day(2), day(3), "away"},
		{"after all", day(100), day(101), "plan"},
		// An end is outside, a beginning inside.
		{"at an end", day(4), day(5), ""},
		{"at a moment", day(6), day(6).Add(home.TimeStep), "plan visit"},
		{"before", day(-9), day(0), ""},
	} {
		if got, err := db.Care(t.Context(), "juniper", row.from, row.to); err != nil || ids(got) != row.want {
			t.Errorf("%s: got %q, %v, want %q", row.name, ids(got), err, row.want)
		}
	}
	got, err := db.Care(t.Context(), "juniper", time.Time{}, time.Time{})
	if err != nil || !reflect.DeepEqual(got, all) {
		t.Errorf("got %+v, %v\nwant %+v", got, err, all)
	}
	if got, err := db.Care(t.Context(), "", time.Time{}, time.Time{}); err != nil || len(got) != 4 {
		t.Errorf("of all cats: %q, %v", ids(got), err)
	}
}

// An event that is corrected is told to those who derive things, over all of its span.
func TestDB_Care_Corrected(t *testing.T) {
	db := fresh(t)
	first, second := event("a", home.Away, t0, time.Time{}), event("b", home.Away, t0, t0.AddDate(0, 0, 2))
	if _, err := db.Append(t.Context(), home.Batch{Care: []home.Care{first}}); err != nil {
		t.Fatal(err)
	}
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	c := home.Correction{ID: "k", Cat: "juniper", Matter: home.OfCare, Target: "a", Replacement: "b", At: t0.AddDate(0, 0, 5), Why: "came back"}
	if err := db.Correct(t.Context(), c, home.Batch{Care: []home.Care{second}}); err != nil {
		t.Fatal(err)
	}
	if got, err := db.Care(t.Context(), "juniper", time.Time{}, time.Time{}); err != nil || ids(got) != "b" {
		t.Errorf("got %q, %v", ids(got), err)
	}
	if got, err := db.EveryCare(t.Context(), "juniper"); err != nil || ids(got) != "a b" {
		t.Errorf("the history: %q, %v", ids(got), err)
	}
	entries, err := db.Journal(t.Context(), end, 10)
	if err != nil || len(entries) != 2 || entries[0].Matter != home.OfCare || entries[0].Cat != "juniper" || entries[0].To.Before(c.At.Truncate(home.TimeStep)) {
		t.Errorf("told: %+v, %v", entries, err)
	}
	c.ID, c.Replacement = "k2", ""
	if err := db.Correct(t.Context(), c, home.Batch{}); !errors.Is(err, home.ErrCorrected) {
		t.Errorf("corrected twice: %v", err)
	}
}

func TestDB_Photo_KeptOnce(t *testing.T) {
	db := fresh(t)
	jpeg := []byte("picture")
	p := home.PhotoFile{ID: home.PhotoID(jpeg), Width: 4, Height: 3, JPEG: jpeg}
	for range 2 {
		if _, err := db.Append(t.Context(), home.Batch{Photos: []home.PhotoFile{p}}); err != nil {
			t.Fatal(err)
		}
	}
	got, err := db.Photo(t.Context(), p.ID)
	if err != nil || !bytes.Equal(got.JPEG, jpeg) || got.Width != 4 {
		t.Errorf("got %+v, %v", got, err)
	}
	if all, err := db.PhotoIDs(t.Context()); err != nil || len(all) != 1 {
		t.Errorf("got %v, %v", all, err)
	}
	if _, err := db.Photo(t.Context(), "none"); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("no such picture: %v", err)
	}
}
