package main

import (
	"encoding/json"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// pathed is a receiver that keeps the newest body of each path; /gone is gone.
func pathed(t *testing.T) (url string, newest func(path string) string) {
	t.Helper()
	var mu sync.Mutex
	bodies := map[string]string{}
	web := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		b, err := io.ReadAll(r.Body)
		if err != nil || r.URL.Path == "/gone" {
			w.WriteHeader(http.StatusGone)
			return
		}
		var m struct{ Body string }
		if json.Unmarshal(b, &m) != nil {
			t.Errorf("not JSON: %q", b)
		}
		mu.Lock()
		defer mu.Unlock()
		bodies[r.URL.Path] = m.Body
	}))
	t.Cleanup(web.Close)
	return web.URL, func(path string) string {
		mu.Lock()
		defer mu.Unlock()
		return bodies[path]
	}
}

// One finding, seven channels with rules of their own: the command and the page
// show every decision about each with its reason, the ones that were superseded too.
func TestWhy_EveryDecision(t *testing.T) {
	t.Parallel()
	unraced(t)
	url, newest := pathed(t)
	began := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	days, data := slipping(began), filepath.Join(t.TempDir(), "house.db")
	settings := litterHouse(t, data, url+"/phone")
	for name, rule := range map[string]string{
		"night":  `quiet = { from = "22:00", to = "07:00" }`,
		"loud":   `least = "today"`,
		"second": `after = "12h"`,
		"stand":  "after = \"15m\"\nfor = \"phone\"",
		"gone":   "",
		"daily":  `digest = "08:00"`,
	} {
		settings += fmt.Sprintf("[[webhook]]\nname = %q\nurl = %q\n%s\n", name, url+"/"+name, rule)
	}
	const known = 105
	h := startTimed(t, data, settings, began.AddDate(0, 0, known))
	h.post(slices.Concat(days[:known]...))
	day := known
	for ; newest("/phone") == ""; day++ {
		h.live(days[day])
	}
	first := newest("/phone")
	h.set(h.now.Add(8 * time.Hour)) // the morning
	h.settle()
	answerBy(t, first)
	for range 10 { // past the first reminder
		h.live(days[day])
		day++
	}
	config := h.config
	code, said := commanded(t, "why", "juniper/weight-falling", "--config", config)
	if code != 0 {
		t.Fatalf("why ended with %d:\n%s", code, said)
	}
	_, list := commanded(t, "why", "--config", config)
	id := regexp.MustCompile(`juniper/weight-falling/\S+`).FindString(list)
	page := ""
	eventually(t, "the page of the finding answers", func() (bool, string) {
		status, body := get(h.url + "/findings/" + id)
		page = body
		return status == http.StatusOK, body
	})
	for _, want := range []string{
		"To be sent at once.",
		"Taken by phone at try 1.",
		"Held for quiet hours until",
		"Taken by night at try 1.",
		"Less urgent than this channel wants to hear (today).",
		"To be sent to a second person if nobody has reacted by",
		"Somebody has reacted.",
		"To be sent if the other channel has not taken it by",
		"Not needed: the other channel took it.",
		"Given up after 1 try: it answered HTTP 410",
		"A reminder, if it still stands by then and nobody has reacted.",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("the command does not say %q", want)
		}
		if !strings.Contains(html.UnescapeString(page), want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if !strings.Contains(said, "The practice knows.") || !strings.Contains(said, "raised") {
		t.Error("the command leaves out what happened")
	}
	if t.Failed() {
		t.Logf("list:\n%s\nwhy:\n%s", list, said)
	}
}

// What cannot be found, or fits several, is refused with what helps.
func TestWhy_Refuses(t *testing.T) {
	data := filepath.Join(t.TempDir(), "house.db")
	began := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	h := startTimed(t, data, litterHouse(t, data, "http://127.0.0.1:1/"), began)
	redFlag(t, h.url)
	h.settle()
	for _, row := range []struct {
		name string
		args []string
		code int
		want string
	}{
		// A slip of the pen.
		{"unknown", []string{"nobody", "--data", data}, 1, "weighbeam why, without a name, lists them"},
		// A part that fits one is enough.
		{"a part", []string{"red-flag", "--data", data}, 0, "juniper/red-flag/"},
		{"as JSON", []string{"juniper", "--json", "--data", data}, 0, `"what":"raised"`},
		{"no store", []string{"--data", filepath.Join(t.TempDir(), "none.db")}, 1, "none.db"},
	} {
		t.Run(row.name, func(t *testing.T) {
			code, said := commanded(t, append([]string{"why"}, row.args...)...)
			if code != row.code || !strings.Contains(said, row.want) {
				t.Errorf("ended with %d:\n%s", code, said)
			}
		})
	}
}
