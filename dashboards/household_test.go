package dashboards_test

import (
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

// edited is a house whose household can be changed.
func edited(h *fakehouse.House, change ...func(*dashboards.Options)) http.Handler {
	return serve(h, append(change, func(o *dashboards.Options) { o.Householder = h })...)
}

// sent posts a form that was made a moment ago, where it does not say from when it is.
func sent(s http.Handler, path string, form url.Values) *httptest.ResponseRecorder {
	if _, mark, ok := strings.Cut(get(s, "/household").Body.String(), `name="was" value="`); ok && !form.Has("was") {
		mark, _, _ = strings.Cut(mark, `"`)
		form.Set("was", mark)
	}
	r := httptest.NewRequest("POST", path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.ServeHTTP(w, r)
	return w
}

func TestHousehold_Cat_IsAddedChangedAndTakenOff(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	says(t, get(s, "/household"), 200, "Mustard", "hall-box", "litter box, house/hall/box", "/household/cat?id=plum", "/household/scale?id=bowl")
	says(t, get(s, "/household/cat"), 200, "A new cat", `name="new" value="1"`)
	w := sent(s, "/household/cat", url.Values{"new": {"1"}, "id": {"sprat"}, "name": {"Špratka <b>"}, "born": {"2021"}, "sex": {"female"}, "neutered": {"1"}, "weight": {"3,9"}, "chip": {"276"}})
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/household" {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	c, _ := h.Home.Cat("sprat")
	if c.Name != "Špratka <b>" || !c.BornYear || c.Born.Year() != 2021 || c.WeightKg != 3.9 || !c.Neutered || c.Chip != "276" {
		t.Errorf("it became %+v", c)
	}
	// What is shown is what was said, ready to change.
	says(t, get(s, "/household/cat?id=sprat"), 200, `value="2021"`, `value="3.90"`, "Špratka &lt;b&gt;", `value="female" selected`, `name="neutered" value="1" checked`)
	sent(s, "/household/cat", url.Values{"id": {"sprat"}, "name": {"Sprat"}, "born": {"2021-06-01"}})
	if c, _ := h.Home.Cat("sprat"); c.Name != "Sprat" || c.BornYear || c.Born != time.Date(2021, 6, 1, 0, 0, 0, 0, time.UTC) || c.Neutered || c.WeightKg != 0 {
		t.Errorf("it was changed to %+v", c)
	}
	// A cat that leaves leaves the scales, too.
	h.Home.Scales[0].Cats = []string{"plum", "sprat"}
	sent(s, "/household/cat", url.Values{"id": {"sprat"}, "remove": {"1"}})
	if _, ok := h.Home.Cat("sprat"); ok || strings.Join(h.Home.Scales[0].Cats, " ") != "plum" {
		t.Errorf("after it left: %+v", h.Home)
	}
	says(t, get(s, "/household/cat?id=ghost"), 404)
}

// What is wrong stands beside its field, and nothing that was typed is lost.
func TestHousehold_Wrong_IsToldBesideTheField(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	for _, row := range []struct {
		path string
		form url.Values
		want []string
	}{
		{"/household/cat", url.Values{"new": {"1"}, "id": {"Big Cat"}, "name": {""}, "born": {"2 May"}, "weight": {"4600"}, "chip": {"27-6"}},
			[]string{`id="id-wrong"`, "not a slug", `id="name-wrong"`, `id="born-wrong"`, "2014-05-02", `id="weight-wrong"`, "in kg", `value="Big Cat"`, `value="2 May"`, `value="4600"`, `value="27-6"`}},
		// A short name that is taken would join two histories.
		{"/household/cat", url.Values{"new": {"1"}, "id": {"plum"}, "name": {"Plum the second"}}, []string{"Another cat has this short name", "Plum the second"}},
		{"/household/cat", url.Values{"new": {"1"}, "id": {"kit"}, "name": {"Kit"}, "born": {"2031"}}, []string{"Nobody living here was born then"}},
		// What only the whole can tell.
		{"/household/cat", url.Values{"new": {"1"}, "id": {"hand"}, "name": {"Hand"}}, []string{"word of the program"}},
		{"/household/cat", url.Values{"new": {"1"}, "id": {"bowl"}, "name": {"Bowl"}}, []string{"taken"}},
		{"/household/scale", url.Values{"new": {"1"}, "id": {"box 2"}, "kind": {""}, "topic": {"bad/#/filter"}, "cat": {"plum"}},
			[]string{`id="id-wrong"`, "Choose what stands", `id="topic-wrong"`, "No such filter", `value="plum" checked`, `value="bad/#/filter"`}},
		{"/household/scale", url.Values{"new": {"1"}, "id": {"box-2"}, "kind": {"floor"}, "tag-topic": {"bad/#/tag"}}, []string{`id="tag-topic-wrong"`, "<details open>", `value="bad/#/tag"`}},
		{"/household/scale", url.Values{"new": {"1"}, "id": {"box-2"}, "kind": {"floor"}, "payload": {"morse"}}, []string{`id="payload-wrong"`, "unknown payload", `value="morse"`}},
	} {
		before := len(h.Home.Cats) + len(h.Home.Scales)
		s := edited(h, func(o *dashboards.Options) {
			o.ValidFilter = func(f string) error {
				if strings.Contains(f, "bad") {
					return errors.New("no such filter")
				}
				return nil
			}
		})
		says(t, sent(s, row.path, row.form), http.StatusUnprocessableEntity, append(row.want, `role="alert"`)...)
		if len(h.Home.Cats)+len(h.Home.Scales) != before {
			t.Errorf("%v changed the household", row.form)
		}
	}
	// A store that fails loses nothing either.
	h.AppendErr = errors.New("the disk is full")
	says(t, sent(s, "/household/cat", url.Values{"id": {"plum"}, "name": {"Plummy"}}), http.StatusUnprocessableEntity, "The disk is full.", `value="Plummy"`)
}

func TestHousehold_Scale_IsAddedAndChanged(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	sent(s, "/household/scale", url.Values{"new": {"1"}, "id": {"mat"}, "kind": {"floor"}, "topic": {"house/mat"}, "payload": {"number"}, "unit": {"g"}, "sends": {"weight"}, "cat": {"plum", "mustard"}})
	m, ok := h.Home.Scale("mat")
	if !ok || m.Kind != "floor" || m.Topic != "house/mat" || m.Payload != "number" || m.Unit != "g" || m.Sends != "weight" || len(m.Cats) != 2 {
		t.Fatalf("it became %+v", m)
	}
	says(t, get(s, "/household/scale?id=mat"), 200, `value="floor" selected`, `value="g" selected`, `value="weight" selected`, `value="plum" checked`, `value="house/mat"`)
	// A reader of microchips beside it is kept by the form that shows it.
	tagged := url.Values{"id": {"mat"}, "kind": {"floor"}, "topic": {"house/mat"}, "payload": {"number"}, "unit": {"g"}, "sends": {"weight"}, "tag-topic": {"house/tag"}, "tag-payload": {"json:/tag"}}
	sent(s, "/household/scale", tagged)
	if m, _ := h.Home.Scale("mat"); m.TagTopic != "house/tag" || m.TagPayload != "json:/tag" {
		t.Errorf("it became %+v", m)
	}
	says(t, get(s, "/household/scale?id=mat"), 200, `value="house/tag"`, `value="json:/tag"`, "<details open>")
	sent(s, "/household/scale", url.Values{"id": {"mat"}, "remove": {"1"}})
	if _, ok := h.Home.Scale("mat"); ok {
		t.Error("it is still there")
	}
}

// The household comes out as a file and goes in as one; a bad one changes nothing
// and stays in the form.
func TestHousehold_File_OutAndIn(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	file := get(s, "/household.toml")
	says(t, file, 200, "mustard")
	h.Home.Cats = nil
	if w := sent(s, "/household/import", url.Values{"text": {file.Body.String()}}); w.Code != http.StatusSeeOther || len(h.Home.Cats) != 3 {
		t.Fatalf("%d, %d cats", w.Code, len(h.Home.Cats))
	}
	says(t, sent(s, "/household/import", url.Values{"text": {"{half"}}), http.StatusUnprocessableEntity, "cut short", "Look at line 1.", "Nothing was changed.", "{half", "<details open>")
	if len(h.Home.Cats) != 3 {
		t.Error("a bad file changed the household")
	}
	// What a file would take off is asked about first: an empty one wipes the house.
	says(t, sent(s, "/household/import", url.Values{"text": {"{}"}}), http.StatusUnprocessableEntity, "the cat Mustard", "the scale hall-box", "Nothing was changed yet", `name="remove"`)
	if len(h.Home.Cats) != 3 {
		t.Error("an empty file took the cats off without a question")
	}
	if w := sent(s, "/household/import", url.Values{"text": {"{}"}, "remove": {"yes"}}); w.Code != http.StatusSeeOther || len(h.Home.Cats) != 0 {
		t.Errorf("%d, %d cats", w.Code, len(h.Home.Cats))
	}
}

// A page of somebody else cannot change the household.
func TestHousehold_FromElsewhere_IsRefused(t *testing.T) {
	h := fakehouse.Lived()
	r := httptest.NewRequest("POST", "/household/cat", strings.NewReader("id=plum&remove=1"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	w := httptest.NewRecorder()
	edited(h).ServeHTTP(w, r)
	if w.Code != http.StatusForbidden || len(h.Home.Cats) != 3 {
		t.Errorf("%d, %d cats", w.Code, len(h.Home.Cats))
	}
	// Where nothing may be changed there is no such page.
	says(t, get(serve(h), "/household"), 404)
}

// Who is told is added, shown without the secret, changed and taken off; nobody stands
// in for one who is gone.
func TestHousehold_Contact_IsAddedChangedAndTakenOff(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	says(t, get(s, "/household"), 200, "Nobody was added here", "No telephone number")
	if w := sent(s, "/household/contact", url.Values{"new": {"1"}, "id": {"ada"}, "way": {"service"}, "least": {"book"}, "digest": {"08:00"}, "after": {"10m"},
		"secret_service": {"ntfy://ntfy.example.org/plum"}, "mail_to": {"left over"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	want := home.Contact{ID: "ada", Way: home.ByService, Least: home.Book, Digest: "08:00", After: 10 * time.Minute}
	if c, _ := h.Home.Contact("ada"); c != want || h.Typed["ada"] != "ntfy://ntfy.example.org/plum" {
		t.Errorf("it became %+v, typed %q", c, h.Typed["ada"])
	}
	shown := get(s, "/household/contact?id=ada")
	says(t, shown, 200, `value="service" checked`, `value="book" selected`, `value="10m"`, `value="08:00"`, "it stays as it is")
	if strings.Contains(shown.Body.String(), "ntfy.example.org/plum") {
		t.Error("the address is shown")
	}
	sent(s, "/household/contact", url.Values{"new": {"1"}, "id": {"ben"}, "way": {"topic"}, "topic": {"house/said"}, "user_topic": {"said"}, "for": {"ada"}, "after": {"3h"}})
	if c, _ := h.Home.Contact("ben"); c.For != "ada" || c.After != 3*time.Hour || c.To != "house/said" || c.User != "said" {
		t.Errorf("it became %+v", c)
	}
	says(t, get(s, "/household/contact?id=ben"), 200, "<option selected>ada</option>", "<option>lamp</option>", `value="3h"`)
	says(t, get(s, "/household"), 200, "/household/contact?id=ada", "by a message service")
	sent(s, "/household/contact", url.Values{"id": {"ada"}, "remove": {"1"}})
	if c, ok := h.Home.Contact("ben"); len(h.Home.Contacts) != 1 || !ok || c.For != "" || c.After != 0 {
		t.Errorf("after ada left: %+v", h.Home.Contacts)
	}
	says(t, get(s, "/household/contact?id=ghost"), 404)
}

// What the house goes by is kept; what is no number, zone or hour is told beside its field.
func TestHousehold_Ways_AreKept(t *testing.T) {
	h := fakehouse.Lived()
	s := edited(h)
	says(t, sent(s, "/household/ways", url.Values{"practice": {"Mill Lane"}, "phone": {"call us"}, "zone": {"Vienna time"}}), http.StatusUnprocessableEntity,
		"has digits", `value="call us"`, `id="zone-wrong"`, `value="Vienna time"`)
	says(t, sent(s, "/household/ways", url.Values{"quiet_from": {"22:00"}}), http.StatusUnprocessableEntity, "beginning and an end")
	sent(s, "/household/ways", url.Values{"practice": {" Mill Lane "}, "phone": {"+44 20 7946 0000"}, "units": {"lb"}, "zone": {"Europe/Vienna"}, "quiet_from": {"22:00"}, "quiet_to": {"07:00"}})
	if g := h.Home; g.Practice != "Mill Lane" || g.Phone != "+44 20 7946 0000" || g.Units != "lb" || g.Zone != "Europe/Vienna" || g.QuietFrom != "22:00" || g.QuietTo != "07:00" {
		t.Errorf("kept: %+v", g)
	}
	says(t, get(s, "/household/ways"), 200, `value="Mill Lane"`, `value="&#43;44 20 7946 0000"`, `value="lb" selected`, `value="Europe/Vienna"`, `value="22:00"`)
	says(t, get(s, "/household"), 200, "Mill Lane &#43;44 20 7946 0000")
}

// Somebody who is late is told how it is now, loses nothing of what was typed, and can
// send it again. A page that does not say what it was made from counts as late.
func TestHousehold_ChangedMeanwhile_IsTold(t *testing.T) {
	for _, row := range []struct {
		path string
		form url.Values
		want []string // on the page
		done func(h home.Household) bool
	}{
		{"/household/cat", url.Values{"id": {"plum"}, "name": {"Plummy"}, "born": {"2015"}}, []string{`value="Plummy"`, `value="2015"`, "How it is now", "Plum of the mill", "Save"},
			func(h home.Household) bool { c, _ := h.Cat("plum"); return c.Name == "Plummy" && c.BornYear }},
		{"/household/cat", url.Values{"new": {"1"}, "id": {"sprat"}, "name": {"Sprat"}}, []string{`value="Sprat"`, "How it is now", "Plum of the mill"},
			func(h home.Household) bool { _, ok := h.Cat("sprat"); return ok }},
		// What is wrong is told as well.
		{"/household/cat", url.Values{"new": {"1"}, "id": {"sprat"}, "name": {"Sprat"}, "born": {"1066"}}, []string{`value="1066"`, "How it is now"}, nil},
		// Somebody else took it off.
		{"/household/cat", url.Values{"id": {"ghost"}, "name": {"Ghost"}}, []string{`value="Ghost"`, "It is not there any more"},
			func(h home.Household) bool { _, ok := h.Cat("ghost"); return ok }},
		// Nobody has to take off what is gone.
		{"/household/cat", url.Values{"id": {"ghost"}, "remove": {"1"}}, nil, nil},
		// Who takes one off sees what that one is now.
		{"/household/cat", url.Values{"id": {"plum"}, "remove": {"1"}}, []string{`value="Plum of the mill"`, "Take off the household"},
			func(h home.Household) bool { _, ok := h.Cat("plum"); return !ok }},
		{"/household/scale", url.Values{"new": {"1"}, "id": {"mat"}, "kind": {"floor"}, "topic": {"house/mat"}}, []string{`value="house/mat"`, "hall-box"},
			func(h home.Household) bool { _, ok := h.Scale("mat"); return ok }},
		{"/household/contact", url.Values{"new": {"1"}, "id": {"ada"}, "way": {"service"}, "secret_service": {"ntfy://x"}}, []string{`value="ada"`, "but for passwords"},
			func(h home.Household) bool { _, ok := h.Contact("ada"); return ok }},
		{"/household/ways", url.Values{"practice": {"Mill Lane"}}, []string{`value="Mill Lane"`, "555 0199"}, func(h home.Household) bool { return h.Practice == "Mill Lane" }},
		{"/household/import", url.Values{"text": {`{"Cats":[{"ID":"moss","Name":"Moss"}]}`}, "remove": {"yes"}}, []string{"Moss", "here as a file", "Use this file"},
			func(h home.Household) bool { return len(h.Cats) == 1 && h.Cats[0].ID == "moss" }},
	} {
		h := fakehouse.Lived()
		s := edited(h)
		old := h.Home.Mark()
		h.Home.Phone = "555 0199" // somebody else was faster
		for i, c := range h.Home.Cats {
			if c.ID == "plum" {
				h.Home.Cats[i].Name = "Plum of the mill"
			}
		}
		now := h.Home.Mark()
		if row.want == nil {
			row.form.Set("was", old)
			if w := sent(s, row.path, row.form); w.Code != http.StatusSeeOther || h.Home.Mark() != now {
				t.Errorf("%s %v: %d", row.path, row.form, w.Code)
			}
			continue
		}
		for _, was := range []string{old, ""} {
			row.form.Set("was", was)
			says(t, sent(s, row.path, row.form), http.StatusConflict, append(row.want, "Somebody changed the household while you were at it", `name="was" value="`+now+`"`)...)
			if h.Home.Mark() != now || len(h.Typed) > 0 {
				t.Errorf("%s %v was taken", row.path, row.form)
			}
		}
		row.form.Set("was", now)
		w := sent(s, row.path, row.form)
		if row.done == nil {
			says(t, w, http.StatusUnprocessableEntity, "check the year")
		} else if w.Code != http.StatusSeeOther || !row.done(h.Home) {
			t.Errorf("%s %v: sent again it became %d %+v", row.path, row.form, w.Code, h.Home)
		}
	}
}
