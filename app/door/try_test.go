package door

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
)

// Guessing ends after a few tries, also with the right password then, and the
// answer does not tell a name that is known from one that is not.
func TestDoor_Guessing_IsStopped(t *testing.T) {
	e := serve(t, config())
	_, wrong := e.login("ada", "no")
	resp, unknown := e.login("eve", "no")
	if resp.StatusCode != 401 || strings.ReplaceAll(wrong, "ada", "eve") != unknown {
		t.Errorf("a known name is answered otherwise than an unknown one:\n%s\n%s", wrong, unknown)
	}
	for range triesOfOne - 2 {
		e.login("ada", "no")
	}
	resp, body := e.login("ada", "sixteen tabby paws")
	if resp.StatusCode != 429 || resp.Header.Get("Retry-After") == "" || !strings.Contains(body, "Wait five minutes") {
		t.Errorf("try %d: %d, Retry-After %q", triesOfOne+1, resp.StatusCode, resp.Header.Get("Retry-After"))
	}
	// Without a proxy in the settings, a header gives nobody fresh tries.
	if resp, _ := e.login("ada", "sixteen tabby paws", "X-Forwarded-For", "192.0.2.9"); resp.StatusCode != 429 {
		t.Errorf("a made-up address is believed: %d", resp.StatusCode)
	}
}

// A guesser with many addresses has the tries that the threat model says, and those
// of one address are one's own.
func TestDoor_Guessing_FromManyAddresses(t *testing.T) {
	d := &Door{}
	d.one, d.all = limiters()
	refused := func(from string) bool {
		r := httptest.NewRequest(http.MethodPost, "/login", nil)
		r.RemoteAddr = from
		return d.tooOften(httptest.NewRecorder(), r)
	}
	for try := range 99 {
		if refused(fmt.Sprintf("192.0.2.%d:1000", try/9)) {
			t.Fatalf("try %d is one too many", try+1)
		}
	}
	if refused("192.0.2.0:1000") || !refused("192.0.2.0:1000") || !refused("198.51.100.7:1000") {
		t.Error("the eleventh of one address, or the hundred and first of all, is let in")
	}
}

// What strangers type appears in the log on the line of its event, quoted.
func TestDoor_Log_CannotBeForged(t *testing.T) {
	e := serve(t, config())
	e.login("eve\ntime=2025-01-01T00:00:00Z level=INFO msg=\"all is well\"", "no")
	if lines := strings.Count(e.log.String(), "\n"); lines != 1 {
		t.Errorf("%d lines for one event:\n%s", lines, e.log)
	}
}
