package browsertest

import (
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"weighbeam/dashboards/fakehouse"
)

var target = regexp.MustCompile(`(?:href|src|srcset)="(/[^"#]*)`)

// Every address that a page names answers, from the house on down.
func TestPages_EveryLink_Answers(t *testing.T) {
	base := serve(t, fakehouse.Lived())
	seen, queue := map[string]bool{"/": true}, []string{"/", "/check/mustard/now"}
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		body := fetch(t, base+path)
		for _, m := range target.FindAllStringSubmatch(body, -1) {
			next := strings.ReplaceAll(m[1], "&amp;", "&")
			if !seen[next] {
				seen[next] = true
				queue = append(queue, next)
			}
		}
	}
	if len(seen) < 30 {
		t.Errorf("only %d addresses were found: the walk is broken", len(seen))
	}
}

func fetch(t *testing.T, url string) string {
	t.Helper()
	resp, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	if resp.StatusCode != http.StatusOK {
		t.Errorf("%s answers %s", url, resp.Status)
	}
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	if resp.Header.Get("Content-Security-Policy") == "" || resp.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%s is served without its guards: %v", url, resp.Header)
	}
	return string(body)
}

// A page with all that it loads stays under 60 KB on the line, for a phone on a
// slow one; one with charts, which are the size of their data, under 150.
func TestPages_WithAllTheyLoad_StaySmall(t *testing.T) {
	for _, l := range looks() {
		base := serve(t, l.house())
		page := body(t, base+l.path)
		sum := onTheLine(t, base+l.path)
		for _, m := range loaded.FindAllSubmatch(page, -1) {
			sum += onTheLine(t, base+strings.ReplaceAll(string(m[1]), "&amp;", "&"))
		}
		most := 60 << 10
		if strings.Contains(string(page), ".svg?period=") || strings.Contains(l.path, "/sheet") {
			most = 150 << 10
		}
		if sum > most {
			t.Errorf("%s comes to %d bytes, want at most %d", l.name, sum, most)
		}
	}
}

// onTheLine is how many bytes an address takes as a browser asks for it.
func onTheLine(t *testing.T, url string) int {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodGet, url, nil)
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Accept-Encoding", "gzip") // asked for by hand, it is not unpacked
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = resp.Body.Close() }()
	n, err := io.Copy(io.Discard, resp.Body)
	if err != nil || n == 0 {
		t.Errorf("%s: %d bytes, %v", url, n, err)
	}
	return int(n)
}

var loaded = regexp.MustCompile(`(?:<link rel="(?:stylesheet|icon)" href|<(?:img|script) src)="([^"]*)`)
