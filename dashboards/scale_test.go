package dashboards_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// Each thing that a scale felt is said in words, with who, how heavy and how sure.
func TestScale_Page_SaysHowVisitsWereUnderstood(t *testing.T) {
	h := fakehouse.Lived()
	at := fakehouse.Now.Add(-time.Hour)
	h.Visited = nil
	for i, v := range []home.Visit{
		{Event: home.CatVisit, MassKg: 4.281, SDKg: 0.012, LeftG: 31.4, HasLeft: true, Cat: "mustard", Confidence: 0.978, Whose: home.Named},
		{Event: home.CatVisit, MassKg: 5.2, Cat: "barnaby", Confidence: 1, Whose: home.Said},
		{Event: home.CatVisit, MassKg: 6.6, Whose: home.Guest},
		{Event: home.CatVisit, MassKg: 6.7, Confidence: 1, Whose: home.Said},
		{Event: home.CatVisit, MassKg: 4.05, Whose: home.Unclear, Reasons: []string{"moving", "dropout"}},
		{Event: home.CatVisit, MassKg: 4.0, Cat: "moved-out", Confidence: 0.999, Whose: home.Named},
		{Event: home.Look}, {Event: home.Several}, {Event: home.Scooped}, {Event: home.ToppedUp},
		{Event: home.Knocked}, {Event: home.Moved}, {Event: home.Meal}, {Event: home.Drink},
	} {
		v.Source, v.Start, v.End = "hall-box", at.Add(time.Duration(i)*time.Minute), at.Add(time.Duration(i)*time.Minute+95*time.Second)
		h.Visited = append(h.Visited, v)
	}
	w := get(serve(h, func(o *dashboards.Options) { o.Naming = true }), "/sources/hall-box")
	says(t, w, 200, "litter box", "1 hour ago", "topic house/hall/box, as SenML",
		"Mustard, 98 % sure", "4.28 kg ± 0.01", "31 g", "95 s",
		"Barnaby, as told", "<td>a guest <", "<td>a guest, as told <", "unclear", "moving, dropout", "moved-out, over 99 % sure",
		"too short to weigh", "more than one at once", "taken out", "put in", "a knock", "emptied or changed", "food eaten", "water drunk",
		fmt.Sprintf("/whose/hall-box/%d", at.UnixMicro()))
	if n := strings.Count(w.Body.String(), "/whose/"); n != 7 { // six weighings, and the unclear one in its own list
		t.Errorf("%d visits can be named, want 7", n)
	}
	// It is said where people look first.
	for _, page := range []string{"/", "/set-aside"} {
		says(t, get(serve(h, func(o *dashboards.Options) { o.Naming = true }), page), 200, `<a href="/sources/hall-box">hall-box</a>, 1 visit of the last seven days`)
		if strings.Contains(get(serve(h), page).Body.String(), "could not be given to one cat") {
			t.Errorf("%s: named though nobody takes it", page)
		}
	}
	if strings.Contains(get(serve(h), "/sources/hall-box").Body.String(), "/whose/") {
		t.Error("visits can be named though nobody takes it")
	}
}

// An old visit is listed only where it is still unclear.
func TestScale_OldVisits_OnlyUnclearOnesAreListed(t *testing.T) {
	h := fakehouse.Lived()
	old := fakehouse.Now.AddDate(0, 0, -20)
	h.Visited = []home.Visit{
		{Source: "hall-box", Start: old, End: old, Event: home.CatVisit, MassKg: 3.33, Cat: "plum", Whose: home.Named},
		{Source: "hall-box", Start: old.Add(time.Hour), End: old, Event: home.CatVisit, MassKg: 3.44, Whose: home.Unclear},
	}
	w := get(serve(h), "/sources/hall-box")
	says(t, w, 200, "3.44 kg", "Whose was it?")
	if strings.Contains(w.Body.String(), "3.33 kg") {
		t.Error("a settled visit of three weeks ago is listed")
	}
}

func TestScale_Kinds_SayWhatTheyAre(t *testing.T) {
	h := fakehouse.Lived()
	h.Home.Scales[2].Topic, h.Home.Scales[2].Payload = "", "number"
	h.Home.Scales = append(h.Home.Scales, home.Scale{ID: "quiet", Kind: home.Water, Topic: "q", Payload: "json:a.b"})
	h.Status = append(h.Status, home.SourceStatus{Source: "stranger", Last: fakehouse.Now, Count: 1})
	s := serve(h)
	says(t, get(s, "/sources/bowl"), 200, "by other ways than MQTT", "A scale has gone silent", "None.")
	says(t, get(s, "/sources/quiet"), 200, "water bowl", "never", "as JSON, the number at a.b")
	says(t, get(s, "/sources/stranger"), 200, "not in the household", "given to the cats of this house")
}

// When something was measured, when it arrived and when it was stored are told apart.
func TestScale_Times_AreToldApart(t *testing.T) {
	h := fakehouse.Lived()
	s := serve(h)
	// of a minute's way, and of a store that was busy
	says(t, get(s, "/sources/hall-box"), 200, "<dt>Last reading</dt>", "<dt>Arrived</dt>", "<dt>Stored</dt><dd>1.2 s after that</dd>")
	says(t, get(s, "/sources/attic-box"), 200, "<dt>Stored</dt><dd>at once</dd>")
	// of a store that did not keep it
	if body := get(s, "/sources/bowl").Body.String(); strings.Contains(body, "<dt>Stored</dt>") {
		t.Error("a time that was not kept is told")
	}
}

// What people said stands beside the finding, with a way to answer.
func TestFinding_WithAnswers_ListsThem(t *testing.T) {
	h := fakehouse.Lived()
	id := fakehouse.Falling.ID()
	for i, r := range []home.Reaction{
		{Kind: home.SeenTo, By: "Ines"}, {Kind: home.VetKnows}, {Kind: home.Explained, Note: "new food"},
		{Kind: home.Snoozed, Until: fakehouse.Now.AddDate(0, 0, 7)},
	} {
		r.ID, r.Finding, r.At = fmt.Sprint(i), id, fakehouse.Now
		h.Said = append(h.Said, r)
	}
	s := serve(h, func(o *dashboards.Options) { o.Reactions = h.Reactions })
	says(t, get(s, "/findings/"+id), 200, "Ines: somebody sees to it", "the practice knows of it", "there is a harmless reason", "new food", "to be reminded", "4 Apr 2026", "/answer?finding=mustard%2fweight-falling%2f2026")
	says(t, get(s, "/findings/"+fakehouse.Rising.ID()), 200, "Nothing yet.")
	if strings.Contains(get(serve(h), "/findings/"+id).Body.String(), "/answer") {
		t.Error("it offers to answer though nobody takes answers")
	}
}

// A digest is a notice of no finding: it has no page to lead to.
func TestHouse_NoticeOfNoFinding_LeadsNowhere(t *testing.T) {
	h := fakehouse.Lived()
	h.Told = []home.Notice{{ID: "d", Turn: home.Daily, Subject: "The day", Channel: "mail", Created: fakehouse.Now, State: home.Sent, Sent: fakehouse.Now}}
	w := get(serve(h), "/")
	says(t, w, 200, "The day (digest)", "No reason was recorded")
	if strings.Contains(w.Body.String(), `href="/findings/"`) {
		t.Error("it leads to no finding")
	}
}
