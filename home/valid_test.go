package home

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

func breaths(change func(*Reading)) Reading {
	r := Reading{Source: Hand, Quantity: Breaths, Time: noon, Value: 11, Cat: "juniper", Window: 30 * time.Second, State: Asleep}
	change(&r)
	return r
}

func TestReading_Valid(t *testing.T) {
	for _, row := range []struct {
		name string
		r    Reading
		want string // part of the error; "" for none
	}{
		{"a count", breaths(func(*Reading) {}), ""},
		// A rate without its window says nothing about how far it can be off.
		{"no window", breaths(func(r *Reading) { r.Window = 0 }), "window_s"},
		// Asleep, resting and at the clinic are different variables.
		{"no state", breaths(func(r *Reading) { r.State = "" }), "asleep"},
		{"odd state", breaths(func(r *Reading) { r.State = "dreaming" }), "unknown state"},
		{"a weight with a window", breaths(func(r *Reading) { r.Quantity, r.Value = Weight, 4 }), "only counts"},
		{"a source that is no slug", breaths(func(r *Reading) { r.Source = "Box 1" }), "slug"},
		{"a clock that was never set", breaths(func(r *Reading) { r.Time = time.Time{} }), "1970"},
		{"a negative uncertainty", breaths(func(r *Reading) { r.SD = -1 }), "uncertainty"},
		{"a note without end", breaths(func(r *Reading) { r.Note = strings.Repeat("x", MaxNote+1) }), "note"},
	} {
		err := row.r.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
}

// Fact: 15 s times 4 and 30 s times 2 (arithmetic of a count).
func TestReading_PerMinute(t *testing.T) {
	for _, row := range []struct {
		n    float64
		w    time.Duration
		want float64
	}{{8, 15 * time.Second, 32}, {7, 15 * time.Second, 28}, {11, 30 * time.Second, 22}, {30, time.Minute, 30}, {18, 6 * time.Second, 180}} {
		r := Reading{Quantity: Breaths, Value: row.n, Window: row.w}
		if got := r.PerMinute(); got != row.want {
			t.Errorf("%g in %v: got %g a minute, want %g", row.n, row.w, got, row.want)
		}
	}
	if got := (Reading{Quantity: Weight, Value: 4}).PerMinute(); got != 0 {
		t.Errorf("a weight has a rate of %g", got)
	}
}

func TestHousehold_Valid(t *testing.T) {
	cat, box := Cat{ID: "juniper", Name: "Juniper"}, Scale{ID: "box-1", Kind: LitterBox, Cats: []string{"juniper"}}
	for _, row := range []struct {
		name string
		h    Household
		want string
	}{
		{"a house", Household{Cats: []Cat{cat}, Scales: []Scale{box}}, ""},
		{"an empty house", Household{}, ""},
		// One id for two things would join their readings.
		{"two cats of one id", Household{Cats: []Cat{cat, cat}}, "taken"},
		{"a cat and a scale of one id", Household{Cats: []Cat{cat}, Scales: []Scale{{ID: "juniper", Kind: Floor}}}, "taken"},
		{"a scale for a stranger", Household{Scales: []Scale{box}}, "not in the household"},
		// "hand" is a source of readings already.
		{"a word of the program", Household{Cats: []Cat{{ID: Hand, Name: "Hand"}}}, "word of the program"},
		{"no name", Household{Cats: []Cat{{ID: "x"}}}, "name"},
		{"an odd sex", Household{Cats: []Cat{{ID: "x", Name: "X", Sex: "tom"}}}, "female, male"},
		{"grams for kilograms", Household{Cats: []Cat{{ID: "x", Name: "X", WeightKg: 4600}}}, "check the unit"},
		{"an odd kind", Household{Scales: []Scale{{ID: "s", Kind: "sofa"}}}, "kind"},
		{"an odd unit", Household{Scales: []Scale{{ID: "s", Kind: Floor, Unit: "mL"}}}, "mL"},
		{"a scale that sends breaths", Household{Scales: []Scale{{ID: "s", Kind: Floor, Sends: Breaths}}}, "load or weight"},
	} {
		err := row.h.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
}

func TestHomeCheck_Valid(t *testing.T) {
	for _, row := range []struct {
		name string
		c    HomeCheck
		want string
	}{
		// Any part alone is a check.
		{"only a red flag", HomeCheck{ID: "1", Cat: "juniper", Time: noon, RedFlags: []RedFlag{OpenMouth}}, ""},
		{"only a note", HomeCheck{ID: "1", Cat: "juniper", Time: noon, Note: "hid all day"}, ""},
		{"only a count", HomeCheck{ID: "1", Cat: "juniper", Time: noon, Readings: []Reading{breaths(func(*Reading) {})}}, ""},
		{"nothing", HomeCheck{ID: "1", Cat: "juniper", Time: noon, Note: " "}, "nothing was filled in"},
		{"another cat's count", HomeCheck{ID: "1", Cat: "moss", Time: noon, Readings: []Reading{breaths(func(*Reading) {})}}, "moss"},
		{"an odd flag", HomeCheck{ID: "1", Cat: "juniper", Time: noon, RedFlags: []RedFlag{"sneezed"}}, "red flag"},
	} {
		err := row.c.Valid()
		if row.want == "" && err != nil || row.want != "" && (err == nil || !strings.Contains(err.Error(), row.want)) {
			t.Errorf("%s: got %v, want %q", row.name, err, row.want)
		}
	}
	for _, f := range RedFlags() {
		if f.Words() == string(f) {
			t.Errorf("%s has no words", f)
		}
	}
}

func TestHint_InnermostWins(t *testing.T) {
	cause := errors.New("no space")
	err := fmt.Errorf("outside: %w", &Error{Op: "store readings", Hint: "outer", Err: &Error{Op: "write", Hint: "free some space", Err: cause}})
	if got := Hint(err); got != "free some space" {
		t.Errorf("got %q", got)
	}
	if Hint(cause) != "" || !errors.Is(err, cause) || err.Error() != "outside: store readings: write: no space" {
		t.Errorf("got %q", err)
	}
}

func TestUrgency_RankOrders(t *testing.T) {
	last := 0
	for _, u := range []Urgency{Mention, Book, Today, Now} {
		if u.Rank() <= last {
			t.Errorf("%s ranks %d after %d", u, u.Rank(), last)
		}
		last = u.Rank()
	}
	if Urgency("soon").Rank() != 0 {
		t.Error("an unknown urgency has a rank")
	}
}

// Two findings of one sign for one cat are two, and an id is the same for ever.
func TestFinding_ID(t *testing.T) {
	f := Finding{Cat: "juniper", Sign: WeightFalling, Raised: noon}
	g := f
	g.Raised = noon.Add(time.Microsecond)
	h := f
	h.Raised, h.Text, h.Urgency = noon.In(time.FixedZone("", 3600)), "other words", Now
	if f.ID() == g.ID() || f.ID() != h.ID() || f.ID() != "juniper/weight-falling/20250303T120000.000000Z" {
		t.Errorf("%s %s %s", f.ID(), g.ID(), h.ID())
	}
	if (Finding{Source: "box-1"}).Subject() != "box-1" {
		t.Error("a finding about a scale has no subject")
	}
}
