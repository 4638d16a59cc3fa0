package main

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// A device that got no answer because the power went sends the same again, with the
// same key and no time by which the reading could be known: it is stored once.
func TestServe_IdempotencyKeyOutlivesAKill(t *testing.T) {
	p, url, data := serveWith(t, fmt.Sprintf("[broker]\nlisten = \"127.0.0.1:%d\"\n", port(t)))
	send := func(value string) (status int, body string) {
		t.Helper()
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, url+"/api/v1/readings",
			strings.NewReader(fmt.Sprintf(`[{"n":"box-1:weight","u":"kg","v":%s}]`, value)))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Content-Type", "application/senml+json")
		req.Header.Set("Idempotency-Key", "morning")
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		text, err := io.ReadAll(resp.Body)
		if err != nil {
			t.Fatal(err)
		}
		return resp.StatusCode, string(text)
	}
	status, first := send("4.5")
	if status != http.StatusOK {
		t.Fatalf("%d %s", status, first)
	}
	p.kill()
	p = launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = \"127.0.0.1:%d\"\n", data, port(t), port(t))))
	url = p.pages()
	if status, again := send("4.5"); status != http.StatusOK || again != first {
		t.Errorf("%q, and after a kill %d %q", first, status, again)
	}
	if status, body := send("4.6"); status != http.StatusUnprocessableEntity {
		t.Errorf("another reading under the same key: %d %q", status, body)
	}
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	if got := storedOf(t, data, "box-1", home.Weight); len(got) != 1 || got[0].Value != 4.5 || got[0].Arrived.After(time.Now()) {
		t.Errorf("stored: %+v", got)
	}
}
