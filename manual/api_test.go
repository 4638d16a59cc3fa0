package manual

import (
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"reflect"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// post sends a body as a program does.
func postCheck(t *testing.T, m Store, body string) (*httptest.ResponseRecorder, map[string]any) {
	t.Helper()
	h := CheckAPI(m, Options{Now: func() time.Time { return noon }, Zone: time.UTC, Vet: func() (string, string) { return "Mill Lane practice", "+44 20 7946 0000" }})
	r := httptest.NewRequest(http.MethodPost, CheckPath, strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	var answer map[string]any
	if err := json.Unmarshal(w.Body.Bytes(), &answer); err != nil {
		t.Fatalf("the answer is no JSON: %v\n%s", err, w.Body)
	}
	return w, answer
}

const wholeCheck = `{"id":"tablet-17","cat":"fig","time":"2026-03-03T21:10:00Z","by":"Mira",
	"weight":{"with":71.3,"without":67.0,"unit":"kg"},
	"breaths":{"count":11,"window_s":30,"state":"asleep"},
	"heartbeats":{"count":42,"window_s":15,"state":"resting"},
	"temperature":{"value":38.4},
	"seen":[{"part":"appetite","values":["as-usual"]},{"part":"eyes","side":"left","values":["watery"]},{"part":"body-condition","number":5}],
	"lumps":[{"place":"flank","side":"right","length_mm":8}],
	"given":[{"kind":"food","what":"tinned","taken":"half"}],
	"note":"calm"}`

// All parts of a check arrive as the form would have them.
func TestCheckAPI_WholeCheck_IsStored(t *testing.T) {
	m := lived()
	w, answer := postCheck(t, m, wholeCheck)
	if w.Code != http.StatusCreated || len(m.checks) != 1 || answer["id"] != m.checks[0].ID || answer["duplicate"] != false {
		t.Fatalf("status %d, %v, stored %+v", w.Code, answer, m.checks)
	}
	c := m.checks[0]
	if !c.Time.Equal(time.Date(2026, 3, 3, 21, 10, 0, 0, time.UTC)) || c.By != "Mira" || c.Note != "calm" {
		t.Errorf("stored %+v", c)
	}
	if len(c.Readings) != 4 || len(c.Seen) != 3 || len(c.Lumps) != 1 || len(c.Given) != 1 {
		t.Fatalf("stored %d readings, %d parts, %d lumps, %d foods", len(c.Readings), len(c.Seen), len(c.Lumps), len(c.Given))
	}
	// The digits sent show the step: 0.1 kg, twice (GUM F.2.2.1).
	if kg := c.Readings[0]; kg.Value != 4.3 || kg.SD < 0.0408 || kg.SD > 0.0409 {
		t.Errorf("weight %v ± %v", kg.Value, kg.SD)
	}
}

// The same check sent again is known; sent with something changed it is another.
func TestCheckAPI_SentAgain_IsOneCheck(t *testing.T) {
	m := lived()
	postCheck(t, m, wholeCheck)
	if w, answer := postCheck(t, m, wholeCheck); w.Code != http.StatusOK || answer["duplicate"] != true {
		t.Errorf("again: %d, %v", w.Code, answer)
	}
	if w, _ := postCheck(t, m, strings.Replace(wholeCheck, `"count":11`, `"count":12`, 1)); w.Code != http.StatusCreated {
		t.Errorf("changed: %d", w.Code)
	}
}

func TestCheckAPI_WrongParts_ArePointedAt(t *testing.T) {
	for _, c := range []struct {
		name, body string
		pointers   []string
		offers     string
	}{
		// each part is checked by itself, and all that is wrong is said at once
		{"two parts", `{"cat":"fig","breaths":{"count":11.5,"window_s":30,"state":"asleep"},"temperature":{"value":20}}`, []string{"#/breaths/count", "#/temperature/value"}, ""},
		// the state tells a sleeping count from one on the run
		{"no state", `{"cat":"fig","breaths":{"count":11}}`, []string{"#/breaths/state"}, ""},
		// a window that nobody counts over
		{"odd window", `{"cat":"fig","breaths":{"count":11,"window_s":7,"state":"asleep"}}`, []string{"#/breaths/window_s"}, ""},
		// half of a difference
		{"without", `{"cat":"fig","weight":{"with":71}}`, []string{"#/weight/without"}, ""},
		// a unit that is no mass
		{"unit", `{"cat":"fig","weight":{"value":4,"unit":"stone"}}`, []string{"#/weight/unit"}, ""},
		// nobody's check
		{"cat", `{"cat":"nobody","note":"x"}`, []string{"#/cat"}, "fig, moss"},
		// not yet
		{"future", `{"cat":"fig","time":"2031-01-01T00:00:00Z","note":"x"}`, []string{"#/time"}, ""},
		// an id cannot make two sendings one where each is dated by its arrival
		{"id without time", `{"id":"a","cat":"fig","note":"x"}`, []string{"#/time"}, ""},
		// a part that there is not, a side that it has not, a value that it has not
		{"part", `{"cat":"fig","seen":[{"part":"wings","values":["as-usual"]}]}`, []string{"#/seen/0/part"}, "alertness"},
		{"side", `{"cat":"fig","seen":[{"part":"nose","side":"left","values":["runny"]}]}`, []string{"#/seen/0/side"}, ""},
		{"value", `{"cat":"fig","seen":[{"part":"nose","values":["purple"]}]}`, []string{"#/seen/0/values"}, "as-usual, clean, runny"},
		// what would overwrite something is refused, not dropped
		{"part twice", `{"cat":"fig","seen":[{"part":"nose","values":["runny"]},{"part":"nose","values":["clean"]}]}`, []string{"#/seen/1"}, ""},
		{"two new lumps", `{"cat":"fig","lumps":[{"place":"flank","length_mm":3},{"place":"ear","length_mm":3}]}`, []string{"#/lumps/1"}, ""},
		{"four foods", `{"cat":"fig","given":[{"kind":"food","what":"a"},{"kind":"food","what":"b"},{"kind":"food","what":"c"},{"kind":"food","what":"d"}]}`, []string{"#/given"}, ""},
		{"flag", `{"cat":"fig","red_flags":["sad"],"note":"x"}`, []string{"#/red_flags/0"}, "collapse"},
		// a name that is spelt wrong is not passed over
		{"unknown field", `{"cat":"fig","breath":{"count":11}}`, []string{"#"}, ""},
		{"type", `{"cat":"fig","breaths":{"count":11,"state":3}}`, []string{"#/breaths/state"}, ""},
		{"no JSON", `weight 4.3`, []string{"#"}, ""},
		{"two values", `{"cat":"fig","note":"x"} {}`, []string{"#"}, ""},
		{"nothing", `{"cat":"fig"}`, []string{"#"}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := lived()
			w, answer := postCheck(t, m, c.body)
			var pointers []string
			list, _ := answer["errors"].([]any)
			for _, e := range list {
				one := e.(map[string]any)
				pointers = append(pointers, one["pointer"].(string))
				if detail := one["detail"].(string); detail == "" || !strings.Contains(detail, c.offers) {
					t.Errorf("said is %q, want %q in it", detail, c.offers)
				}
			}
			if w.Code != http.StatusUnprocessableEntity || len(m.checks) != 0 || !reflect.DeepEqual(pointers, c.pointers) {
				t.Errorf("status %d, wrong at %q, want %q; stored %d: %s", w.Code, pointers, c.pointers, len(m.checks), w.Body)
			}
		})
	}
}

// A red flag is stored and answered whatever else is wrong, and what could not be
// read is kept as it came.
func TestCheckAPI_RedFlag_IsAnsweredFirst(t *testing.T) {
	for _, c := range []struct{ name, body, kept string }{
		// by its own name
		{"flag", `{"cat":"fig","red_flags":["collapse"]}`, ""},
		// as what was seen of a part
		{"seen", `{"cat":"fig","seen":[{"part":"gum-colour","values":["blue"]}]}`, ""},
		// beside a count that cannot be
		{"wrong count", `{"cat":"fig","red_flags":["collapse"],"breaths":{"count":-3,"state":"asleep"}}`, `"count":-3`},
		// in a body with a field that is none
		{"unknown field", `{"cat":"fig","red_flags":["collapse"],"breath":22}`, `"breath":22`},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := lived()
			w, answer := postCheck(t, m, c.body)
			said, _ := answer["now"].(string)
			if w.Code != http.StatusCreated || !strings.Contains(said, "Go to a vet now") || !strings.Contains(said, "+44 20 7946 0000") {
				t.Fatalf("status %d: %s", w.Code, w.Body)
			}
			if len(m.checks) != 1 || len(m.checks[0].RedFlags) != 1 || !strings.Contains(m.checks[0].Note, c.kept) {
				t.Errorf("stored %+v", m.checks)
			}
		})
	}
}

// Where nothing can be stored the sender is told to try again, and a red flag is
// answered all the same.
func TestCheckAPI_StoreFails_SaysSendAgain(t *testing.T) {
	m := lived()
	m.failure = errors.New("disk full")
	w, answer := postCheck(t, m, `{"cat":"fig","red_flags":["collapse"]}`)
	said, _ := answer["now"].(string)
	if w.Code != http.StatusServiceUnavailable || w.Header().Get("Retry-After") == "" || !strings.Contains(said, "Go to a vet now") {
		t.Errorf("status %d: %s", w.Code, w.Body)
	}
}

// What is no post of JSON is told what is.
func TestCheckAPI_OtherRequests_AreRefused(t *testing.T) {
	h := CheckAPI(lived(), Options{})
	for _, c := range []struct {
		method, kind, site string
		want               int
	}{
		{http.MethodGet, "application/json", "", http.StatusMethodNotAllowed},
		{http.MethodPost, "text/plain", "", http.StatusUnsupportedMediaType},
		// a page elsewhere that posts through a reader's browser
		{http.MethodPost, "application/json", "cross-site", http.StatusForbidden},
	} {
		r := httptest.NewRequest(c.method, CheckPath, strings.NewReader(`{"cat":"fig","note":"x"}`))
		r.Header.Set("Content-Type", c.kind)
		r.Header.Set("Sec-Fetch-Site", c.site)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.want {
			t.Errorf("%s of %s from %q: %d, want %d", c.method, c.kind, c.site, w.Code, c.want)
		}
	}
}

// Whatever is sent, it is answered, and what is stored is valid.
func FuzzCheckAPI(f *testing.F) {
	f.Add(wholeCheck)
	f.Add(`{"cat":"fig","red_flags":["collapse"],"note":"` + strings.Repeat("é", home.MaxNote) + `"}`)
	f.Add(`{"cat":"fig","weight":{"value":1e400}}`)
	f.Fuzz(func(t *testing.T, body string) {
		m := lived()
		if w, _ := postCheck(t, m, body); w.Code >= 500 {
			t.Errorf("%d for %q", w.Code, body)
		}
		for _, c := range m.checks {
			if err := c.Valid(); err != nil {
				t.Errorf("stored what is not valid: %v", err)
			}
		}
	})
}
