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

// memory is a store that keeps checks, and fails where it is told to.
type memory struct {
	home              home.Household
	checks            []home.HomeCheck
	photos            []home.PhotoFile
	care              []home.Care
	houseErr, failure error
}

func (m *memory) Household(context.Context) (home.Household, error) { return m.home, m.houseErr }

func (m *memory) Append(_ context.Context, b home.Batch) (home.Tally, error) {
	if m.failure != nil {
		return home.Tally{}, m.failure
	}
	m.photos = append(m.photos, b.Photos...)
	m.care = append(m.care, b.Care...)
	for _, c := range b.Checks {
		for _, old := range m.checks {
			if old.ID == c.ID {
				return home.Tally{Duplicate: 1 + len(c.Readings)}, nil
			}
		}
		m.checks = append(m.checks, c)
	}
	return home.Tally{Stored: 1}, nil
}

func (m *memory) Care(context.Context, string, time.Time, time.Time) ([]home.Care, error) {
	return m.care, nil
}

func (m *memory) Checks(_ context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error) {
	var out []home.HomeCheck
	for _, c := range m.checks {
		if c.Cat == cat && !c.Time.Before(from) && c.Time.Before(to) {
			out = append(out, c)
		}
	}
	return out, nil
}

// en is what the English page says under a key.
func en(key string, pairs ...any) string { return english.say(key, pairs...) }

func newRoom(m *memory) http.Handler {
	return New(m, Options{Now: func() time.Time { return noon }, Zone: time.UTC, Vet: func() (string, string) { return "Mill Lane", "+1 555 0100" }})
}

func lived() *memory { return &memory{home: house()} }

func get(t *testing.T, h http.Handler, path string) *httptest.ResponseRecorder {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", path, nil))
	return w
}

func send(t *testing.T, h http.Handler, form url.Values, header ...string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest("POST", "/check", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func says(t *testing.T, w *httptest.ResponseRecorder, status int, words ...string) {
	t.Helper()
	if w.Code != status {
		t.Errorf("status is %d, want %d", w.Code, status)
	}
	for _, s := range words {
		if !strings.Contains(w.Body.String(), s) {
			t.Errorf("the page does not say %q:\n%.20000s", s, w.Body)
		}
	}
}

func TestPost_GoodForm_IsStoredBeforeItSaysSo(t *testing.T) {
	m := lived()
	h := newRoom(m)
	w := send(t, h, filled(url.Values{"breaths": {"16"}, "state": {"asleep"}, "note": {`<script>x</script>`}}))
	if w.Code != http.StatusSeeOther || len(m.checks) != 1 {
		t.Fatalf("status %d with %d checks stored, want 303 with 1", w.Code, len(m.checks))
	}
	page := get(t, h, w.Header().Get("Location"))
	says(t, page, 200, "Stored", "4.20 kg", "32 a minute", "Count again several times", "&lt;script&gt;")
	if strings.Contains(page.Body.String(), "<script>") {
		t.Error("the note became markup")
	}
}

func TestPost_SameFormTwice_StoresOnceAndSaysSo(t *testing.T) {
	m := lived()
	h := newRoom(m)
	send(t, h, filled(nil))
	w := send(t, h, filled(nil))
	if len(m.checks) != 1 {
		t.Errorf("stored %d checks, want 1", len(m.checks))
	}
	says(t, get(t, h, w.Header().Get("Location")), 200, "stored already")
}

func TestPost_BadForm_StoresNothingAndKeepsWhatWasTyped(t *testing.T) {
	m := lived()
	w := send(t, newRoom(m), filled(url.Values{"weight": {"4 point 2"}, "note": {"kept & whole"}, "cat": {"ghost"}}))
	says(t, w, http.StatusUnprocessableEntity, `value="4 point 2"`, "kept &amp; whole", "ghost (not known)", "No cat of this name")
	if len(m.checks) != 0 {
		t.Error("something was stored")
	}
}

func TestPost_StoreFails_SaysNotStoredAndKeepsWhatWasTyped(t *testing.T) {
	m := lived()
	m.failure = home.Hinted("append", "Free some space on the disk.", "disk full")
	w := send(t, newRoom(m), filled(url.Values{"note": {"long work"}}))
	says(t, w, http.StatusServiceUnavailable, "This was not stored", "Free some space", "long work", `value="4.2"`)
	m = &memory{houseErr: errors.New("down")}
	w = send(t, newRoom(m), filled(nil))
	says(t, w, http.StatusServiceUnavailable, "This was not stored", `value="4.2"`, `value="fig"`)
	if strings.Contains(w.Body.String(), en(msgCat)) {
		t.Error("it blames the cat's name")
	}
}

// Nothing stands between a red flag and the page that says to go: not a bad
// form, not a failing store, not a household that cannot be read.
func TestPost_RedFlag_AlwaysSaysGoNow(t *testing.T) {
	flag := url.Values{"flag": {string(home.Straining)}}
	bad := url.Values{"flag": {string(home.Straining)}, "weight": {"??"}, "when": {""}, "cat": {"ghost"}}
	for name, c := range map[string]struct {
		store *memory
		form  url.Values
		kept  int
	}{
		"all well":          {lived(), flag, 1},
		"bad form":          {lived(), bad, 0},
		"store fails":       {&memory{home: house(), failure: errors.New("down")}, flag, 0},
		"household unknown": {&memory{houseErr: errors.New("down")}, flag, 0},
	} {
		h := newRoom(c.store)
		w := send(t, h, filled(c.form))
		if w.Code == http.StatusSeeOther {
			w = get(t, h, w.Header().Get("Location"))
		}
		t.Run(name, func(t *testing.T) {
			says(t, w, 200, "Go to a vet now", "straining without passing urine", "What to say on the phone", `href="tel:&#43;15550100"`)
			if len(c.store.checks) != c.kept {
				t.Errorf("%d checks are stored, want %d", len(c.store.checks), c.kept)
			}
			if c.kept == 0 && !strings.Contains(w.Body.String(), "could not be stored") {
				t.Error("it does not say that nothing was stored")
			}
		})
	}
}

func TestPost_RedFlagWithUnreadFields_KeepsThemInTheNote(t *testing.T) {
	m := lived()
	send(t, newRoom(m), filled(url.Values{"flag": {string(home.Collapse)}, "weight": {"abc"}, "note": {"fell over"}}))
	if len(m.checks) != 1 || !strings.Contains(m.checks[0].Note, "abc") || !strings.Contains(m.checks[0].Note, "fell over") {
		t.Errorf("stored %+v, want a note with both", m.checks)
	}
}

// Two cats checked in the same minute: no reading may pass for the other's.
func TestPost_TwoCatsInOneMinute_KeepsBothReadings(t *testing.T) {
	m := lived()
	h := newRoom(m)
	send(t, h, filled(nil))
	send(t, h, filled(url.Values{"cat": {"moss"}}))
	if len(m.checks) != 2 {
		t.Fatalf("stored %d checks, want 2", len(m.checks))
	}
	a, b := m.checks[0].Readings[0], m.checks[1].Readings[0]
	if a.Source == b.Source && a.Quantity == b.Quantity && a.Time.Equal(b.Time) && a.Seq == b.Seq {
		t.Error("the two readings have one identity")
	}
}

func TestPost_FromElsewhere_IsRefused(t *testing.T) {
	m := lived()
	if w := send(t, newRoom(m), filled(nil), "Sec-Fetch-Site", "cross-site"); w.Code != http.StatusForbidden {
		t.Errorf("status is %d, want 403", w.Code)
	}
	behind := New(m, Options{Now: func() time.Time { return noon }, BaseURL: "https://house.example/weigh"})
	if w := send(t, behind, filled(nil), "Sec-Fetch-Site", "cross-site", "Origin", "https://house.example"); w.Code != http.StatusSeeOther {
		t.Errorf("from the stated address the status is %d, want 303", w.Code)
	}
}

func TestPost_Huge_IsRefusedWithAWayBack(t *testing.T) {
	w := send(t, newRoom(lived()), filled(url.Values{"note": {strings.Repeat("x", maxFields)}}))
	says(t, w, http.StatusRequestEntityTooLarge, "shorten the note")
}

func TestGet_Pages_AnswerOrSayNotFound(t *testing.T) {
	h := newRoom(lived())
	says(t, get(t, h, "/check"), 200, "Which cat?", "&lt;i&gt;Moss&lt;/i&gt;")
	says(t, get(t, h, "/check/fig"), 200, `value="2026-05-04T12:00"`, "breathing with an open mouth")
	says(t, get(t, h, "/check/ghost"), 404)
	says(t, get(t, h, "/check/fig/stored/20260504T113000Z-0000000000000000"), 404)
	says(t, get(t, h, "/check/fig/stored/nonsense"), 404)
	says(t, get(t, h, "/check/fig/now?flag=made-up&flag=collapse"), 200, "collapse, or cannot stand")
	one := newRoom(&memory{home: home.Household{Cats: house().Cats[:1]}})
	if w := get(t, one, "/check"); w.Header().Get("Location") != "/check/fig" {
		t.Errorf("with one cat it leads to %q, want its form", w.Header().Get("Location"))
	}
	says(t, get(t, newRoom(&memory{}), "/check"), 200, "No cat has a name here yet")
}
