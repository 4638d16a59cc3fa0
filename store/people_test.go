package store

import (
	"errors"
	"testing"
	"time"

	"weighbeam/home"
)

func TestDB_Name_ReplacesAndTells(t *testing.T) {
	db := fresh(t)
	v := home.Visit{Source: "box-1", Start: t0, End: t0.Add(time.Minute), Event: home.CatVisit, MassKg: 4.5, Whose: home.Unclear}
	if err := db.SaveVisits(t.Context(), home.Cursor{Name: "weigh"}, []home.Visit{v}, nil); err != nil {
		t.Fatal(err)
	}
	said := home.Naming{Source: "box-1", Start: t0, Cat: "moss", By: "Ada", At: t0.Add(time.Hour)}
	for _, cat := range []string{"juniper", "moss"} { // a slip, then what was meant
		s := said
		s.Cat = cat
		if err := db.Name(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Namings(t.Context()); err != nil || len(got) != 1 || got[0] != said {
		t.Errorf("got %+v, %v, want %+v", got, err, said)
	}
	entries, err := db.Journal(t.Context(), 0, 100)
	if err != nil || len(entries) != 3 || entries[2].Matter != home.OfNaming || entries[2].Source != "box-1" {
		t.Errorf("journal %+v, %v", entries, err)
	}
	said.Start = t0.Add(time.Second)
	if err := db.Name(t.Context(), said); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("a visit that is not there: %v", err)
	}
}

func TestDB_React_Once(t *testing.T) {
	db := fresh(t)
	f := finding()
	if err := db.Decide(t.Context(), home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}}); err != nil {
		t.Fatal(err)
	}
	r := home.Reaction{ID: "r1", Finding: f.ID(), Kind: home.Snoozed, At: t0, Until: t0.Add(24 * time.Hour), By: "Ada", Note: "after the holiday"}
	for range 2 {
		if err := db.React(t.Context(), r); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Reactions(t.Context(), f.ID()); err != nil || len(got) != 1 || got[0] != r {
		t.Errorf("got %+v, %v", got, err)
	}
	r.ID, r.Finding = "r2", "none"
	if err := db.React(t.Context(), r); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("a finding that is not there: %v", err)
	}
	r.Kind = "shrug"
	if err := db.React(t.Context(), r); err == nil {
		t.Error("a malformed reaction was taken")
	}
}

// What comes from an export is there before the visit and the finding are made
// again; what was said here later stays.
func TestDB_ImportNaming_BeforeTheVisit(t *testing.T) {
	db := fresh(t)
	said := home.Naming{Source: "box-1", Start: t0, Cat: "moss", By: "Ada", At: t0.Add(time.Hour)}
	older := said
	older.Cat, older.At = "juniper", t0.Add(time.Minute)
	for _, s := range []home.Naming{said, older, said} {
		if err := db.ImportNaming(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Namings(t.Context()); err != nil || len(got) != 1 || got[0] != said {
		t.Errorf("got %+v, %v, want %+v", got, err, said)
	}
	if entries, err := db.Journal(t.Context(), 0, 100); err != nil || len(entries) != 1 {
		t.Errorf("journal %+v, %v, want one entry", entries, err)
	}
	said.Source = "no slug"
	if err := db.ImportNaming(t.Context(), said); err == nil {
		t.Error("a malformed naming was taken")
	}
}
