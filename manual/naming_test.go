package manual

import (
	"context"
	"fmt"
	"net/http"
	"net/url"
	"testing"
	"time"

	"weighbeam/home"
)

// scale has one unclear visit.
type scale struct {
	visit   home.Visit
	got     []home.Naming
	failure error
}

func (s *scale) Visits(_ context.Context, source string, from, to time.Time) ([]home.Visit, error) {
	if source != s.visit.Source || s.visit.End.Before(from) || !s.visit.End.Before(to) { // as the store does, by the end
		return nil, nil
	}
	return []home.Visit{s.visit}, nil
}

func (s *scale) Name(_ context.Context, n home.Naming) error {
	if s.failure == nil {
		s.got = append(s.got, n)
	}
	return s.failure
}

func naming() (*scale, http.Handler, string) {
	start := noon.Add(-time.Hour + 7*time.Microsecond)
	s := &scale{visit: home.Visit{Source: "box", Start: start, End: start.Add(40 * time.Second), Event: home.CatVisit, MassKg: 4.05, Whose: home.Unclear}}
	h := New(lived(), Options{Now: func() time.Time { return noon }, Zone: time.UTC, Units: "lb", Namer: s, Traces: true})
	return s, h, fmt.Sprintf("/whose/box/%d", s.visit.Start.UnixMicro())
}

func TestNaming_Page_ShowsTheVisitAndTheCats(t *testing.T) {
	_, h, path := naming()
	says(t, get(t, h, path), 200, "11:00", "8.93 lb", "/trace.svg", "Fig", "&lt;i&gt;Moss&lt;/i&gt;", "does not live here")
}

func TestNaming_OfCatOrGuest_IsStored(t *testing.T) {
	for typed, want := range map[string]string{"fig": "fig", guest: ""} {
		s, h, path := naming()
		w := reply(h, path, url.Values{"who": {typed}, "by": {" Ines "}})
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/sources/box?told=1" || len(s.got) != 1 {
			t.Fatalf("%s: status %d, %d stored", typed, w.Code, len(s.got))
		}
		if n := (home.Naming{Source: "box", Start: s.visit.Start, Cat: want, By: "Ines", At: noon}); s.got[0] != n {
			t.Errorf("stored %+v, want %+v", s.got[0], n)
		}
	}
}

func TestNaming_BadInput_StoresNothing(t *testing.T) {
	s, h, path := naming()
	says(t, reply(h, path, url.Values{"who": {"ghost"}, "by": {"kept"}}), http.StatusUnprocessableEntity, "No cat of this name", `value="kept"`)
	says(t, reply(h, path, nil), http.StatusUnprocessableEntity, "No cat of this name")
	for _, wrong := range []string{"/whose/box/1", "/whose/box/noon", "/whose/other" + path[len("/whose/box"):]} {
		says(t, get(t, h, wrong), http.StatusNotFound)
		says(t, reply(h, wrong, url.Values{"who": {"fig"}}), http.StatusNotFound)
	}
	if len(s.got) != 0 {
		t.Errorf("stored %+v", s.got)
	}
	s.failure = home.Hinted("store", "Free some space.", "full")
	says(t, reply(h, path, url.Values{"who": {"fig"}}), http.StatusServiceUnavailable, "Free some space.")
}
