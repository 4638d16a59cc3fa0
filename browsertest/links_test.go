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
