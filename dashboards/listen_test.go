package dashboards_test

import (
	"bufio"
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"weighbeam/dashboards"
	"weighbeam/dashboards/fakehouse"
	"weighbeam/home"
)

func listening(e *fakehouse.Ear) http.Handler {
	h := fakehouse.Lived()
	return serve(h, func(o *dashboards.Options) {
		o.Claimer, o.Hearing = h, e
		o.ValidFilter = func(f string) error {
			if strings.Contains(f, "#x") {
				return errors.New("'#' stands alone")
			}
			return nil
		}
	})
}

func TestListen_ShowsWhatWasHeard(t *testing.T) {
	e := fakehouse.NewEar()
	e.Say(home.Heard{Time: fakehouse.Now, Topic: "<i>t</i>", Payload: []byte("<script>alert(1)</script>"), Bytes: 25, Why: "<b>no</b>"})
	s := listening(e)
	w := get(s, "/listen")
	says(t, w, 200, "house/hall/box", "9.441", "hall-box load 9.441 kg", "as it arrived", "after 10.0 s", "every 10.0 s",
		"Not understood: no scale claims this topic", "a copy that the broker kept", "Claim this topic", "&lt;script&gt;")
	if body := w.Body.String(); strings.Contains(body, "<script>") || strings.Contains(body, "<i>t") || strings.Contains(body, "<b>no") {
		t.Error("a payload became markup")
	}
	if body := w.Body.String(); strings.Index(body, "9.441") > strings.Index(body, "9.437") {
		t.Error("the newest is not on top")
	}
	policy := w.Header().Get("Content-Security-Policy")
	if strings.Contains(policy, "unsafe") || !strings.Contains(policy, "script-src 'self'") || !strings.Contains(policy, "default-src 'none'") {
		t.Errorf("policy is %q", policy)
	}
	if w := get(s, "/set-aside"); strings.Contains(w.Header().Get("Content-Security-Policy"), "script-src") {
		t.Error("another page may run script")
	}
	one := get(s, "/listen?topic=house/cellar/scale")
	says(t, one, 200, "81.4")
	if strings.Contains(one.Body.String(), "9.441") {
		t.Error("another topic is shown")
	}
	says(t, get(s, "/listen?topic=%23x"), http.StatusUnprocessableEntity, "stands alone")
	if w := get(serve(fakehouse.Lived()), "/listen"); w.Code != 404 {
		t.Errorf("nothing to hear: status %d", w.Code)
	}
}

// events reads a stream until the text of one message holds text, and returns the
// IDs that came up to then.
func events(t *testing.T, r *bufio.Reader, text string) (ids []string) {
	t.Helper()
	for {
		line, err := r.ReadString('\n')
		if err != nil {
			t.Fatalf("the stream ended before %q: %v", text, err)
		}
		if id, ok := strings.CutPrefix(line, "id: "); ok {
			ids = append(ids, strings.TrimSpace(id))
		}
		if strings.HasPrefix(line, "data: ") && strings.Contains(line, text) {
			return ids
		}
	}
}

func open(t *testing.T, url string, header ...string) *http.Response {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	t.Cleanup(cancel)
	req, err := http.NewRequestWithContext(ctx, "GET", url, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+1 < len(header); i += 2 {
		req.Header.Set(header[i], header[i+1])
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { resp.Body.Close() })
	return resp
}

// Messages come as they arrive, and after a break from where it broke off. The end
// of the program ends the stream.
func TestListen_Follow(t *testing.T) {
	e := fakehouse.NewEar()
	server := httptest.NewServer(listening(e))
	defer server.Close()
	resp := open(t, server.URL+"/listen/events?after=1")
	if kind := resp.Header.Get("Content-Type"); kind != "text/event-stream" {
		t.Fatalf("%s, status %d", kind, resp.StatusCode)
	}
	r := bufio.NewReader(resp.Body)
	if ids := strings.Join(events(t, r, "9.441"), " "); ids != "2 3" {
		t.Errorf("began with %s", ids)
	}
	e.Say(home.Heard{Time: fakehouse.Now, Topic: "a", Payload: []byte("two\nlines\revent: heard"), Bytes: 22})
	if ids := strings.Join(events(t, r, "two"), " "); ids != "4" {
		t.Errorf("then came %s", ids)
	}
	// What a payload says is no event of ours.
	again := bufio.NewReader(open(t, server.URL+"/listen/events?after=1", "Last-Event-ID", "3").Body)
	if ids := strings.Join(events(t, again, "event: heard"), " "); ids != "4" {
		t.Errorf("after a break came %s", ids)
	}
	// A page from before a start of the program counts from there.
	anew := bufio.NewReader(open(t, server.URL+"/listen/events?after=900").Body)
	if ids := events(t, anew, "two"); len(ids) != 4 {
		t.Errorf("after a start came %s", ids)
	}
	e.Close()
	for {
		if _, err := r.ReadString('\n'); err != nil {
			break // bounded by the request
		}
	}
}

// Pages that follow are bounded, and a page that leaves makes room.
func TestListen_Follow_Bounded(t *testing.T) {
	e := fakehouse.NewEar()
	server := httptest.NewServer(listening(e))
	defer server.Close()
	defer e.Close() // or the server would wait for its pages
	var all []*http.Response
	for range 20 {
		resp := open(t, server.URL+"/listen/events?after=0")
		events(t, bufio.NewReader(resp.Body), "9.441")
		all = append(all, resp)
	}
	if resp := open(t, server.URL+"/listen/events"); resp.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("one more: status %d", resp.StatusCode)
	}
	all[0].Body.Close()
	for deadline := time.Now().Add(30 * time.Second); ; {
		if resp := open(t, server.URL+"/listen/events"); resp.StatusCode == http.StatusOK {
			return
		}
		if time.Now().After(deadline) {
			t.Fatal("who left takes up room")
		}
	}
}
