package store

import (
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

func TestDB_SaveVisits_RenameAndRemove(t *testing.T) {
	db := fresh(t)
	v := home.Visit{Source: "box-1", Start: t0, End: t0.Add(time.Minute), Event: home.CatVisit, MassKg: 4.5, SDKg: 0.01,
		HasLeft: true, LeftG: 31, LeftSDG: 2, Quality: 0.9, Reasons: []string{"moving"}, Cat: "juniper", Confidence: 0.9, Whose: home.Named,
		Shares: []home.Share{{Cat: "juniper", P: 0.9}, {Cat: "ash", P: 0.06}}}
	cur := home.Cursor{Name: "visits", Journal: 7, Tick: t0}
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{v}, nil); err != nil {
		t.Fatal(err)
	}
	got, err := db.Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], v) {
		t.Fatalf("got %+v, %v\nwant %+v", got, err, v)
	}
	if c, err := db.Cursor(t.Context(), "visits"); err != nil || c != cur {
		t.Errorf("cursor %+v, %v", c, err)
	}
	renamed := v
	renamed.Cat, renamed.Shares = "moss", []home.Share{{Cat: "moss", P: 0.9}, {Cat: "ash", P: 0.06}}
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{renamed}, nil); err != nil {
		t.Fatal(err)
	}
	// The former owner, the new one and the cat that it may be of are told.
	entries, err := db.Journal(t.Context(), 2, 100)
	if err != nil || len(entries) != 3 || entries[0].Cat != "juniper" || entries[1].Cat != "moss" || entries[2].Cat != "ash" {
		t.Errorf("journal after a rename: %+v, %v", entries, err)
	}
	ws, err := db.Weighings(t.Context(), "moss", t0, t0.Add(time.Hour))
	want := home.Weighing{Cat: "moss", Time: v.End, Kg: 4.5, SDKg: 0.01, Source: "box-1", Confidence: 0.9}
	if err != nil || len(ws) != 1 || ws[0] != want {
		t.Errorf("weighings %+v, %v, want %+v", ws, err, want)
	}
	unclear := renamed
	unclear.Cat, unclear.Confidence, unclear.Whose = "", 0, home.Unclear
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{unclear}, nil); err != nil {
		t.Fatal(err)
	}
	want = home.Weighing{Cat: "ash", Time: v.End, Kg: 4.5, SDKg: 0.01, Source: "box-1", Confidence: 0.06, Unclear: true}
	if ws, err := db.Weighings(t.Context(), "ash", t0, t0.Add(time.Hour)); err != nil || len(ws) != 1 || ws[0] != want {
		t.Errorf("weighings %+v, %v, want %+v", ws, err, want)
	}
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := db.SaveVisits(t.Context(), cur, nil, []home.Visit{unclear}); err != nil {
		t.Fatal(err)
	}
	if entries, err := db.Journal(t.Context(), end, 100); err != nil || len(entries) != 2 || entries[0].Cat != "ash" || entries[1].Cat != "moss" {
		t.Errorf("journal after a removal: %+v, %v", entries, err)
	}
	if got, err := db.Visits(t.Context(), "box-1", time.Time{}, time.Time{}); err != nil || len(got) != 0 {
		t.Errorf("after removal: %+v, %v", got, err)
	}
}
