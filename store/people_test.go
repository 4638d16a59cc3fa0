package store

import (
	"errors"
	"slices"
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
		if err := db.React(t.Context(), r, nil); err != nil {
			t.Fatal(err)
		}
	}
	if got, err := db.Reactions(t.Context(), f.ID()); err != nil || len(got) != 1 || got[0] != r {
		t.Errorf("got %+v, %v", got, err)
	}
	r.ID, r.Finding = "r2", "none"
	if err := db.React(t.Context(), r, nil); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("a finding that is not there: %v", err)
	}
	r.Kind = "shrug"
	if err := db.React(t.Context(), r, nil); err == nil {
		t.Error("a malformed reaction was taken")
	}
}

// A reaction and what it makes of the notices are kept together or not at all; what was
// sent meanwhile is not sent again.
func TestDB_React_WithNotices(t *testing.T) {
	db, f := fresh(t), finding()
	notice := func(id string, due time.Duration) home.Notice {
		return home.Notice{ID: id, Finding: f.ID(), Turn: home.Reminded, Urgency: home.Book, Channel: "ada", Created: t0, State: home.Waiting, Reason: "waits", Due: t0.Add(due)}
	}
	waits, sent := notice("waits", time.Hour), notice("sent", time.Hour)
	if err := db.Decide(t.Context(), home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}, Notices: []home.Notice{waits, sent}}); err != nil {
		t.Fatal(err)
	}
	sent.State, sent.Reason, sent.Attempts = home.Sent, "taken", 1
	if err := db.SettleNotice(t.Context(), sent); err != nil {
		t.Fatal(err)
	}
	moved, late, added := notice("waits", 24*time.Hour), notice("sent", 24*time.Hour), notice("added", 24*time.Hour)
	moved.Reason, moved.Decided = "moved", t0.Add(time.Minute)
	r := home.Reaction{ID: "r1", Finding: f.ID(), Kind: home.Snoozed, At: t0, Until: t0.Add(24 * time.Hour)}
	orphan := added
	orphan.ID, orphan.Finding = "orphan", "none"
	if err := db.React(t.Context(), r, []home.Notice{moved, orphan}); err == nil {
		t.Error("a notice about nothing was taken")
	}
	if got, err := db.Reactions(t.Context(), f.ID()); err != nil || len(got) != 0 {
		t.Errorf("of what failed there is kept %+v, %v", got, err)
	}
	again := moved
	again.Due = t0.Add(48 * time.Hour)
	for _, notices := range [][]home.Notice{{moved, late, added}, {again}} { // the second time says nothing new
		if err := db.React(t.Context(), r, notices); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []home.Notice{moved, sent, added} {
		all, err := db.Notices(t.Context(), f.ID())
		i := slices.IndexFunc(all, func(n home.Notice) bool { return n.ID == want.ID })
		if i < 0 || all[i] != want || len(all) != 3 {
			t.Errorf("want %+v, got %+v, %v", want, all, err)
		}
	}
	if steps, err := db.NoticeSteps(t.Context(), f.ID()); err != nil || len(steps) != 5 { // two began, one was sent, one moved, one was added
		t.Errorf("steps %+v, %v", steps, err)
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
