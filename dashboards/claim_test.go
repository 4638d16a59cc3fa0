package dashboards_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

const cellar = "house/cellar/scale" // the topic that nobody claims in the lived house

func claiming(h *fakehouse.House) http.Handler {
	return serve(h, func(o *dashboards.Options) { o.Claimer = h })
}

func post(h http.Handler, path string, form url.Values, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// What waits on a topic is offered with the ways in which it could be read.
func TestSetAside_Unclaimed_IsOffered(t *testing.T) {
	h := fakehouse.Lived()
	says(t, get(claiming(h), "/set-aside"), 200, "This is a scale", `name="topic" value="`+cellar+`"`, "a plain number", "A new scale", "hall-box", "Try all of them again")
	// Where nothing can be changed, nothing is offered.
	if body := get(serve(h), "/set-aside").Body.String(); strings.Contains(body, "<form") {
		t.Error("there is a form that leads nowhere")
	}
	if w := post(serve(h), "/set-aside/claim", url.Values{}); w.Code == http.StatusSeeOther {
		t.Errorf("a claim without a claimer: status %d", w.Code)
	}
}

// So is what its scale left behind: with the newest on a topic that no scale claims any
// more, once. What came over HTTP came on no topic.
func TestSetAside_LeftBehind_IsOffered(t *testing.T) {
	h := fakehouse.Lived()
	for i, topic := range []string{"house/left", "house/left", cellar} {
		h.Aside = append(h.Aside, home.SetAside{ID: int64(9 - i), Way: "mqtt", Topic: topic, Payload: []byte("81.4"), Reason: "r"})
	}
	body := get(claiming(h), "/set-aside").Body.String()
	for topic, want := range map[string]int{"house/left": 1, cellar: 1, "/api/v1/readings": 0} {
		if got := strings.Count(body, `name="topic" value="`+topic+`"`); got != want {
			t.Errorf("%s is offered %d times", topic, got)
		}
	}
}

func TestClaim_NewScale_IsClaimedAndSaidSo(t *testing.T) {
	h := fakehouse.Lived()
	s := claiming(h)
	w := post(s, "/set-aside/claim", url.Values{"topic": {cellar}, "scale": {"+"}, "id": {" cellar "}, "kind": {"floor"},
		"payload": {"+"}, "path": {"json:/w"}, "unit": {"g"}, "sends": {"weight"}, "move": {"yes"}})
	if w.Code != http.StatusSeeOther {
		t.Fatalf("status %d:\n%s", w.Code, w.Body)
	}
	got, ok := h.Home.Scale("cellar")
	if want := (home.Scale{ID: "cellar", Kind: home.Floor, Topic: cellar, Payload: "json:/w", Unit: "g", Sends: home.Weight}); !ok || got.Topic != want.Topic ||
		got.Payload != want.Payload || got.Unit != want.Unit || got.Sends != want.Sends || got.Kind != want.Kind || !h.Moved {
		t.Errorf("claimed %+v, want %+v", got, want)
	}
	page := get(s, w.Header().Get("Location"))
	says(t, page, 200, "The topic "+cellar+" belongs to cellar now. 1 message tried again: 1 read, 0 still set aside.")
	if strings.Contains(page.Body.String(), "This is a scale") {
		t.Error("it is still offered")
	}
}

// What is wrong is said beside the form, which keeps what was typed.
func TestClaim_Refused_KeepsTheForm(t *testing.T) {
	h := fakehouse.Lived()
	h.ClaimErr = home.Hinted("claim", "Nothing was changed.", "the newest payload is %q", "<81.4>")
	form := url.Values{"topic": {cellar}, "scale": {"+"}, "id": {"cellar"}, "kind": {"water"}, "payload": {"+"}, "path": {"json:/<w>"}, "unit": {"[oz_av]"}, "sends": {"weight"}}
	w := post(claiming(h), "/set-aside/claim", form)
	says(t, w, http.StatusUnprocessableEntity, "The newest payload is &#34;&lt;81.4&gt;&#34;.", "Nothing was changed.", `<a href="#claim-1">`, `<details id="claim-1" open>`, `value="cellar"`,
		`value="json:/&lt;w&gt;"`, `<option value="[oz_av]" selected>`, `<option value="weight" selected>`, `<option value="water" selected>`)
	form.Del("id")
	says(t, post(claiming(h), "/set-aside/claim", form), http.StatusUnprocessableEntity, "Give the new scale a short name.")
	// Somebody else claimed it a moment ago: what is wrong is said all the same.
	form.Set("topic", "gone")
	says(t, post(claiming(h), "/set-aside/claim", form), http.StatusUnprocessableEntity, "Give the new scale a short name.")
}

// Another site cannot claim anything; behind a proxy the house itself can.
func TestClaim_FromAnotherSite_IsRefused(t *testing.T) {
	h := fakehouse.Lived()
	form := url.Values{"topic": {cellar}, "scale": {"bowl"}, "payload": {"number"}}
	before := slices.Clone(h.Home.Scales)
	if w := post(claiming(h), "/set-aside/claim", form, "Sec-Fetch-Site", "cross-site"); w.Code != http.StatusForbidden {
		t.Errorf("status %d", w.Code)
	}
	if len(h.Home.Scales) != len(before) || h.Claimed(cellar) {
		t.Error("it was claimed")
	}
	behind := serve(h, func(o *dashboards.Options) { o.Claimer, o.Origin = h, "https://house.example" })
	if w := post(behind, "/set-aside/claim", form, "Sec-Fetch-Site", "cross-site", "Origin", "https://house.example"); w.Code != http.StatusSeeOther {
		t.Errorf("status %d", w.Code)
	}
}

// The address says what came of it; a made-up address says nothing odd.
func TestSetAside_Outcome(t *testing.T) {
	h := fakehouse.Lived()
	s := claiming(h)
	to := post(s, "/set-aside/retry", nil).Header().Get("Location")
	says(t, get(s, to), 200, "3 messages tried again: 0 read, 3 still set aside.")
	for _, query := range []string{"?tried=1&read=2", "?tried=-1&read=-1", "?tried=x", "?scale=<b>"} {
		if body := get(s, "/set-aside"+query).Body.String(); strings.Contains(body, "tried again:") || strings.Contains(body, "<b></b>") {
			t.Errorf("%s is believed", query)
		}
	}
}
