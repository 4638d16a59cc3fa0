package app

import (
	"html"
	"io"
	"net/http"
	"strings"
	"testing"

	"weighbeam/home"
)

// Every page of a running house says that it watches only and when to go to a vet now,
// whatever it is about; and the home check says how to handle a cat.
func TestApp_Pages_CarryTheCaution(t *testing.T) {
	for _, sign := range []string{"not diagnose", "veterinary practice decides", "struggles to breathe", "open mouth", "blue, white or grey gums", "collapses",
		"strains without passing urine", "drags its hind legs", "eaten poison", "go to a vet now"} {
		if !strings.Contains(home.Caution, sign) {
			t.Errorf("the caution does not say %q", sign)
		}
	}
	l := startLive(t, home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}, Scales: []home.Scale{{ID: "box-1", Kind: home.LitterBox}}}, noon)
	page := func(path string) string {
		resp, err := http.Get(l.PagesURL() + path)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		body, err := io.ReadAll(resp.Body)
		if err != nil || resp.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d, %v", path, resp.StatusCode, err)
		}
		return html.UnescapeString(string(body))
	}
	for _, path := range []string{"/", "/check", "/check/juniper", "/check/juniper/now", "/cats/juniper", "/cats/juniper/sheet", "/cats/juniper/sheet.html",
		"/sources/box-1", "/set-aside", "/listen", "/notices", "/household"} {
		if !strings.Contains(page(path), home.Caution) {
			t.Errorf("%s does not carry the caution", path)
		}
	}
	form := page("/check/juniper")
	for _, words := range []string{"Stop when the cat has had enough", "towel", "a helper", "Bites happen at the mouth and at the tail end",
		"Leave it unless there is a reason, a helper and a willing cat", "Stop when the cat resists"} {
		if !strings.Contains(form, words) {
			t.Errorf("the home check does not say %q", words)
		}
	}
}
