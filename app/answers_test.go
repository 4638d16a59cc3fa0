package app

import (
	"net/url"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
)

// Who asks by a link to be reminded is: the answer and the reminder are kept in one,
// although none waited.
func TestAnswers_Snooze_KeepsItsReminder(t *testing.T) {
	r, data := newReceiver(t), filepath.Join(t.TempDir(), "house.db")
	a := startTold(t, data, "link = \"http://127.0.0.1\"\n[[webhook]]\nname = \"ada\"\nurl = \""+r.URL+"\"\n")
	at := time.Now().UTC().Truncate(home.TimeStep)
	f := home.Finding{Cat: "plum", Sign: home.WeightRising, Urgency: home.Mention, Raised: at, Text: "x"}
	if err := a.store.Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: "t"}, Turns: []home.Transition{{Turn: home.Raised, At: at, Finding: f}}}); err != nil {
		t.Fatal(err)
	}
	answer, err := url.Parse(a.answers.link(f.ID(), "ada", at))
	if err != nil {
		t.Fatal(err)
	}
	if status, _, page := filledIn(t, a, answer.Path, url.Values{"kind": {"snoozed"}, "days": {"3"}}); status != 200 {
		t.Fatalf("%d\n%s", status, page)
	}
	said, err := a.store.Reactions(t.Context(), f.ID())
	if err != nil || len(said) != 1 {
		t.Fatalf("kept %+v, %v", said, err)
	}
	ns, err := a.store.Notices(t.Context(), f.ID())
	if err != nil || len(ns) != 1 || ns[0].State != home.Waiting || ns[0].Channel != "ada" || !ns[0].Due.Equal(said[0].Until) {
		t.Errorf("notices %+v, %v", ns, err)
	}
}
