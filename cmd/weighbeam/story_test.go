package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
)

// phone is a receiver that keeps what it took, with the day of the house.
type phone struct {
	web *httptest.Server

	mu   sync.Mutex
	day  int
	told []string // "day 7: subject"
	ids  map[string]int
	body string // of the newest
}

func newPhone(t *testing.T) *phone {
	p := &phone{ids: map[string]int{}}
	p.web = httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		var m struct{ ID, Subject, Body string }
		b, err := io.ReadAll(r.Body)
		if err != nil || json.Unmarshal(b, &m) != nil {
			t.Errorf("not JSON: %q", b)
		}
		p.mu.Lock()
		defer p.mu.Unlock()
		if p.ids[m.ID]++; p.ids[m.ID] == 1 { // a second copy is dropped by its id, as the documentation says
			p.told, p.body = append(p.told, fmt.Sprintf("day %d: %s", p.day, m.Subject)), m.Body
		}
	}))
	t.Cleanup(p.web.Close)
	return p
}

func (p *phone) heard() (told []string, newest string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string{}, p.told...), p.body
}

func (p *phone) setDay(day int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.day = day
}

// slipping is what a litter box weighs of a cat whose weight is steady, slips
// for four weeks, falls fast for two and comes back. Three readings a day.
func slipping(from time.Time) [][]string {
	rng := rand.New(rand.NewPCG(3, 0))
	kg := 4.6
	var days [][]string
	for _, phase := range []struct {
		days int
		week float64 // percent
	}{{100, 0}, {27, -0.5}, {15, -2.6}, {5, 0}, {36, 2.2}} {
		for range phase.days {
			kg *= 1 + phase.week/700
			var rows []string
			for _, hour := range []int{7, 13, 21} {
				at := from.AddDate(0, 0, len(days)).Add(time.Duration(hour) * time.Hour)
				rows = append(rows, fmt.Sprintf("%s,box-1,weight,%.3f,kg", at.Format(time.RFC3339), kg+rng.NormFloat64()*0.025))
			}
			days = append(days, rows)
		}
	}
	return days
}

func timeOf(t *testing.T, row string) time.Time {
	t.Helper()
	text, _, _ := strings.Cut(row, ",")
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

var answerLink = regexp.MustCompile(`http://\S+/answer/\S+`)

// answerBy follows the link in a notice and says that the practice knows.
func answerBy(t *testing.T, notice string) {
	t.Helper()
	link := answerLink.FindString(notice)
	if link == "" {
		t.Fatalf("the notice has no link to answer by:\n%s", notice)
	}
	resp, err := http.PostForm(link, url.Values{"kind": {string(home.VetKnows)}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("the answer got %s", resp.Status)
	}
}

// Weight slipping for weeks makes exactly one notice, one reminder a week later if
// nobody reacts, one when it worsens, and one when it is over: with a program that
// runs on, and with one that is killed at each state of the finding.
func TestServe_WeightSlipsForWeeks(t *testing.T) {
	t.Parallel()
	unraced(t)
	for _, kills := range []bool{false, true} {
		t.Run(fmt.Sprintf("kills %v", kills), func(t *testing.T) { slip(t, kills) })
	}
}

func slip(t *testing.T, kills bool) {
	p := newPhone(t)
	began := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	days := slipping(began)
	const known = 105 // days that are there at the start
	data := filepath.Join(t.TempDir(), "house.db")
	h := startTimed(t, data, litterHouse(t, data, p.web.URL), began.AddDate(0, 0, known))
	h.post(slices.Concat(days[:known]...))
	for i, rows := range days[known:] {
		day := known + i
		before, _ := p.heard()
		p.setDay(day)
		h.live(rows)
		told, newest := p.heard()
		if len(told) == len(before) {
			continue
		}
		if kills {
			h.killed()
		}
		if strings.Contains(told[len(told)-1], "Worse.") {
			answerBy(t, newest)
		}
	}
	told, _ := p.heard()
	var on []int
	got := ""
	for _, line := range told {
		d := 0
		_, subject, _ := strings.Cut(line, ": ")
		if _, err := fmt.Sscanf(line, "day %d:", &d); err != nil {
			t.Fatal(err)
		}
		on, got = append(on, d), got+subject+"\n"
	}
	want := `Juniper: weight falling. Book a vet visit.
Reminder. Juniper: weight falling. Book a vet visit.
Worse. Juniper: weight falling. Call the vet today.
Over. Juniper: weight no longer falling.
`
	if got != want || on[1]-on[0] != 7 {
		t.Errorf("the phone heard\n%s\n%s", strings.Join(told, "\n"), h.output())
	}
	for _, n := range h.notices() {
		if n.State == home.Waiting || n.Reason == "" {
			t.Errorf("left over: %s %s %s", n.ID, n.State, n.Reason)
		}
	}
}

// live plays the readings of one day, each when a scale makes it, and the half
// hour after midnight.
func (h *timedHouse) live(rows []string) {
	h.t.Helper()
	for _, row := range rows {
		h.set(timeOf(h.t, row).Add(time.Second))
		h.post([]string{row})
	}
	h.set(timeOf(h.t, rows[0]).Truncate(24 * time.Hour).Add(24*time.Hour + 30*time.Minute))
	h.settle()
}

// litterHouse are the settings of a house with one cat, one scale and one webhook.
func litterHouse(t *testing.T, data, hook string) string {
	t.Helper()
	household := write(t, "household.toml", `
[[cat]]
id = "juniper"
name = "Juniper"
born = 2014-05-02
sex = "female"
neutered = true
[[scale]]
id = "box-1"
kind = "litter-box"
topic = "home/litter/1"
payload = "senml"
`)
	pages := port(t)
	return fmt.Sprintf(`
data = %q
listen = "127.0.0.1:%d"
link = "http://127.0.0.1:%[2]d"
household = %q
zone = "UTC"
[broker]
listen = "127.0.0.1:%d"
[[webhook]]
name = "phone"
url = %q
`, data, pages, household, port(t), hook)
}
