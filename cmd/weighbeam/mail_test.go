package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// The mail about a falling weight carries its chart, drawn from what the store
// holds, with what it shows in words; the text is complete without it.
func TestServe_MailsTheChart(t *testing.T) {
	t.Parallel()
	unraced(t)
	r := newReceivers(t)
	began := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	days, data := slipping(began), filepath.Join(t.TempDir(), "house.db")
	settings := litterHouse(t, data, r.web.URL+"/hook") + fmt.Sprintf(`
[[mail]]
name = "ada"
server = %q
tls = "none"
from = "cats@example.org"
to = "ada@example.org"
`, r.mail)
	const known = 105
	h := startTimed(t, data, settings, began.AddDate(0, 0, known))
	h.post(slices.Concat(days[:known]...))
	letter := ""
	for day := known; letter == ""; day++ {
		h.live(days[day])
		if _, _, letters := r.took(); len(letters) > 0 {
			letter = strings.ReplaceAll(letters[0], "=\r\n", "") // soft line ends of quoted-printable
		}
	}
	text, rest, ok := strings.Cut(letter, "text/html")
	if !ok {
		t.Fatalf("the letter has no picture:\n%s", letter)
	}
	for _, want := range []string{"Subject: Juniper: weight falling. Book a vet visit.", "What to do:", "from 4.60 kg to 4.5", "does not diagnose", "/answer/"} {
		if !strings.Contains(text, want) {
			t.Errorf("the text does not say %q:\n%s", want, text)
		}
	}
	for _, want := range []string{`src=3D"cid:chart.png"`, `alt=3D"Weight of Juniper`, "image/png", "iVBORw0KGgo"} { // as a PNG begins in base64
		if !strings.Contains(rest, want) {
			t.Errorf("the rest has no %q:\n%.3000s", want, rest)
		}
	}
}
