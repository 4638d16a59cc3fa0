package manual

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// said takes answers to one finding.
type said struct {
	finding home.Finding
	got     []home.Reaction
	failure error
}

func (s *said) Finding(_ context.Context, id string) (home.Finding, error) {
	if id != s.finding.ID() {
		return home.Finding{}, home.ErrNotFound
	}
	return s.finding, nil
}

func (s *said) React(_ context.Context, r home.Reaction) error {
	if s.failure == nil {
		s.got = append(s.got, r)
	}
	return s.failure
}

func (s *said) Open(token string, _ time.Time) (home.Reaction, error) {
	if token != "good" {
		return home.Reaction{}, errors.New("read: the link has expired")
	}
	return home.Reaction{ID: "link/7", Finding: s.finding.ID(), By: "phone"}, nil
}

func answering() (*said, http.Handler) {
	s := &said{finding: home.Finding{Cat: "fig", Sign: home.WeightFalling, Raised: noon, Text: "Fig lost <weight>."}}
	return s, New(lived(), Options{Now: func() time.Time { return noon }, Answers: s})
}

func reply(h http.Handler, path string, form url.Values) *httptest.ResponseRecorder {
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// A reaction is stored whole and valid, and leads back to the finding.
func TestAnswer_EachKind_IsStored(t *testing.T) {
	for _, c := range []struct {
		form url.Values
		want home.Reaction
	}{
		{url.Values{"kind": {"seen-to"}, "by": {"Ines"}}, home.Reaction{Kind: home.SeenTo, By: "Ines"}},
		{url.Values{"kind": {"vet-knows"}, "note": {"called"}}, home.Reaction{Kind: home.VetKnows, Note: "called"}},
		{url.Values{"kind": {"explained"}, "note": {"new food"}}, home.Reaction{Kind: home.Explained, Note: "new food"}},
		{url.Values{"kind": {"snoozed"}, "days": {"7"}}, home.Reaction{Kind: home.Snoozed, Until: noon.AddDate(0, 0, 7)}},
	} {
		s, h := answering()
		c.form.Set("finding", s.finding.ID())
		w := reply(h, "/answer", c.form)
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/findings/"+s.finding.ID()+"#said" || len(s.got) != 1 {
			t.Fatalf("%v: status %d to %q with %d stored", c.form, w.Code, w.Header().Get("Location"), len(s.got))
		}
		got := s.got[0]
		if err := got.Valid(); err != nil {
			t.Errorf("%v: %v", c.form, err)
		}
		c.want.ID, c.want.Finding, c.want.At = got.ID, s.finding.ID(), noon
		if got != c.want {
			t.Errorf("stored %+v, want %+v", got, c.want)
		}
	}
}

// By a link nobody types who they are, and the answer has the link's id.
func TestAnswer_ByLink_TakesTheLinksName(t *testing.T) {
	s, h := answering()
	if w := get(t, h, "/answer/good"); w.Code != 200 || len(s.got) != 0 {
		t.Errorf("following the link: status %d, %d stored; want 200 and none", w.Code, len(s.got))
	}
	reply(h, "/answer/good", url.Values{"kind": {"seen-to"}, "by": {"somebody else"}, "finding": {"another/one/1"}})
	if len(s.got) != 1 || s.got[0].ID != "link/7" || s.got[0].By != "phone" || s.got[0].Finding != s.finding.ID() {
		t.Errorf("stored %+v", s.got)
	}
	says(t, get(t, h, "/answer/bad"), http.StatusForbidden, "The link has expired.")
	says(t, reply(h, "/answer/bad", url.Values{"kind": {"seen-to"}}), http.StatusForbidden, "The link has expired.")
}

func TestAnswer_BadInput_SaysSoAndKeepsIt(t *testing.T) {
	for _, c := range []struct {
		form    url.Values
		message string
	}{
		{url.Values{"note": {"kept"}}, en(msgKind)},
		{url.Values{"kind": {"nonsense"}, "note": {"kept"}}, en(msgKind)},
		{url.Values{"kind": {"explained"}}, en(msgExplain)},
		{url.Values{"kind": {"snoozed"}, "days": {"400"}, "note": {"kept"}}, en(msgDays)},
	} {
		s, h := answering()
		c.form.Set("finding", s.finding.ID())
		w := reply(h, "/answer", c.form)
		says(t, w, http.StatusUnprocessableEntity, c.message, c.form.Get("note"), "Fig lost &lt;weight&gt;.")
		if len(s.got) != 0 {
			t.Errorf("%v: something was stored", c.form)
		}
	}
}

func TestAnswer_NotPossible_SaysWhy(t *testing.T) {
	s, h := answering()
	says(t, get(t, h, "/answer?finding=no/such/one"), http.StatusNotFound)
	s.failure = home.Hinted("store", "Free some space.", "full")
	says(t, reply(h, "/answer", url.Values{"finding": {s.finding.ID()}, "kind": {"seen-to"}, "note": {"kept"}}), http.StatusServiceUnavailable, "Free some space.", "kept")
	says(t, get(t, newRoom(lived()), "/answer"), http.StatusNotFound)
}
