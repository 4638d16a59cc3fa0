package store

import (
	"errors"
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

func finding() home.Finding {
	return home.Finding{Cat: "juniper", Sign: home.WeightFalling, Urgency: home.Book, Raised: t0, Updated: t0, Text: "down"}
}

func TestDB_Decide_AllOrNothing(t *testing.T) {
	db := fresh(t)
	f := finding()
	raise := home.Decision{Cursor: home.Cursor{Name: "watch", Journal: 1, Tick: t0},
		Turns:   []home.Transition{{Turn: home.Raised, At: t0, Finding: f}},
		Notices: []home.Notice{{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail", Created: t0, State: home.Waiting, Due: t0}}}
	if err := db.Decide(t.Context(), raise); err != nil {
		t.Fatal(err)
	}
	// A notice about a finding that does not exist breaks the whole decision.
	closed := f
	closed.Closed = t0.Add(time.Hour)
	broken := home.Decision{Cursor: home.Cursor{Name: "watch", Journal: 2, Tick: t0},
		Turns:   []home.Transition{{Turn: home.Closed, At: closed.Closed, Finding: closed}},
		Notices: []home.Notice{{ID: "n2", Finding: "no such finding", Created: t0}}}
	if err := db.Decide(t.Context(), broken); err == nil {
		t.Fatal("a notice without a finding was taken")
	}
	if c, err := db.Cursor(t.Context(), "watch"); err != nil || c.Journal != 1 {
		t.Errorf("cursor moved to %d, %v", c.Journal, err)
	}
	if open, err := db.Findings(t.Context(), true, time.Time{}); err != nil || len(open) != 1 || !reflect.DeepEqual(open[0], f) {
		t.Errorf("open findings %+v, %v", open, err)
	}
	broken.Notices = nil
	if err := db.Decide(t.Context(), broken); err != nil {
		t.Fatal(err)
	}
	if open, err := db.Findings(t.Context(), true, time.Time{}); err != nil || len(open) != 0 {
		t.Errorf("after closing: %+v, %v", open, err)
	}
	turns, err := db.Turns(t.Context(), f.ID())
	if err != nil || len(turns) != 2 || turns[0].Turn != home.Raised || !turns[0].Finding.Open() || turns[1].Turn != home.Closed {
		t.Errorf("turns %+v, %v", turns, err)
	}
	if _, err := db.Finding(t.Context(), "none"); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("unknown finding: %v", err)
	}
}
