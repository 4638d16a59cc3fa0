package store

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// Every decision about a notice is kept, in the order in which it was made; the
// start of a try and a decision that only repeats the one before are none.
func TestDB_NoticeSteps_KeepsEveryDecision(t *testing.T) {
	db, f := fresh(t), finding()
	n := home.Notice{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail",
		Created: t0, State: home.Waiting, Reason: "held", Due: t0.Add(8 * time.Hour)}
	other := n
	other.ID, other.State, other.Reason, other.Due = "n2", home.Withheld, "too small", time.Time{}
	d := home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}, Notices: []home.Notice{n, other, n}}
	if err := db.Decide(t.Context(), d); err != nil {
		t.Fatal(err)
	}
	for i, s := range []struct {
		state    home.NoticeState
		reason   string
		attempts int
	}{
		{home.Waiting, "waits for another", 0},
		{home.Waiting, "waits for another", 0},
		{home.Waiting, "being sent", 1},
		{home.Waiting, "tried once", 1},
		{home.Waiting, "being sent", 2},
		{home.Sent, "taken", 2},
	} {
		n.State, n.Reason, n.Attempts, n.Decided = s.state, s.reason, s.attempts, t0.Add(time.Duration(i+1)*time.Minute)
		if err := db.SettleNotice(t.Context(), n); err != nil {
			t.Fatal(err)
		}
	}
	steps, err := db.NoticeSteps(t.Context(), f.ID())
	if err != nil {
		t.Fatal(err)
	}
	var got strings.Builder
	for _, s := range steps {
		fmt.Fprintf(&got, "%s %s %s %s\n", s.Notice, s.At.Sub(t0), s.State, s.Reason)
	}
	want := `n1 0s waiting held
n2 0s withheld too small
n1 1m0s waiting waits for another
n1 4m0s waiting tried once
n1 6m0s sent taken
`
	if got.String() != want {
		t.Errorf("got\n%swant\n%s", got.String(), want)
	}
	if again, err := db.Notices(t.Context(), f.ID()); err != nil || len(again) != 2 || !again[0].Decided.Equal(n.Decided) {
		t.Errorf("%+v, %v", again, err)
	}
}

func TestDB_SettleNotice_Due(t *testing.T) {
	db := fresh(t)
	f := finding()
	n := home.Notice{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail", Subject: "s", Body: "b",
		Created: t0, State: home.Waiting, Reason: "new", Due: t0.Add(time.Minute)}
	digest := home.Notice{ID: "n0", Turn: home.Daily, Channel: "mail", Created: t0, State: home.Waiting, Due: t0.Add(time.Hour)} // of many findings, or of none
	if err := db.Decide(t.Context(), home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}, Notices: []home.Notice{n, n, digest}}); err != nil {
		t.Fatal(err)
	}
	if due, err := db.DueNotices(t.Context(), t0, 10); err != nil || len(due) != 0 {
		t.Errorf("before its time: %+v, %v", due, err)
	}
	if at, ok, err := db.NextDue(t.Context()); err != nil || !ok || !at.Equal(n.Due) {
		t.Errorf("next due %v %v %v", at, ok, err)
	}
	due, err := db.DueNotices(t.Context(), n.Due, 10)
	if err != nil || len(due) != 1 || due[0] != n {
		t.Fatalf("due %+v, %v, want %+v", due, err, n)
	}
	n.State, n.Sent, n.Attempts, n.Reason = home.Sent, n.Due.Add(time.Second), 1, "taken"
	if err := db.SettleNotice(t.Context(), n); err != nil {
		t.Fatal(err)
	}
	if all, err := db.Notices(t.Context(), f.ID()); err != nil || len(all) != 1 || all[0] != n {
		t.Errorf("settled %+v, %v", all, err)
	}
	if at, ok, err := db.NextDue(t.Context()); err != nil || !ok || !at.Equal(digest.Due) {
		t.Errorf("next due %v %v %v", at, ok, err)
	}
	if err := db.SettleNotice(t.Context(), home.Notice{ID: "other"}); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("unknown notice: %v", err)
	}
}

// A notice that waits without a date would wait for ever: nothing of that decision is kept.
func TestDB_Decide_WaitsWithoutADate(t *testing.T) {
	db, f := fresh(t), finding()
	n := home.Notice{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Now, Channel: "phone", State: home.Waiting}
	d := home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}, Notices: []home.Notice{n}}
	if err := db.Decide(t.Context(), d); err == nil {
		t.Error("it was taken")
	}
	if open, err := db.Findings(t.Context(), true, time.Time{}); err != nil || len(open) != 0 {
		t.Errorf("kept %+v, %v", open, err)
	}
}
