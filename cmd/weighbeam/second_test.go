package main

import (
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// people are receivers by name, one of whom may be out of reach.
type people struct {
	web *httptest.Server
	out string // who takes nothing

	mu    sync.Mutex
	heard []string // who was told, in order
	links map[string]string
}

func newPeople(t *testing.T, out string) *people {
	t.Helper()
	p := &people{out: out, links: map[string]string{}}
	p.web = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who := strings.TrimPrefix(r.URL.Path, "/")
		body, err := io.ReadAll(r.Body)
		p.mu.Lock()
		defer p.mu.Unlock()
		if err != nil || who == p.out {
			w.WriteHeader(http.StatusBadRequest) // for good: given up at once
			return
		}
		p.heard = append(p.heard, who)
		p.links[who] = string(body)
	}))
	t.Cleanup(p.web.Close)
	return p
}

// mend brings everybody within reach.
func (p *people) mend() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.out = ""
}

func (p *people) told() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return slices.Clone(p.heard)
}

// A second person is told when nobody has reacted for so long, not before and not
// after somebody did, and a stand-in when the first cannot be reached: with the
// real program, which is killed while they wait.
func TestServe_SecondPerson(t *testing.T) {
	const escalation = "after = \"2h\"\nleast = \"today\""
	for _, row := range []struct {
		name    string
		rule    string // of ben
		out     string // who cannot be reached
		reacts  bool   // ada answers by the link after an hour
		at1h    []string
		at3h    []string
		reasons string // of ben's notice in the end
	}{
		{"nobody reacts", escalation, "", false, []string{"ada"}, []string{"ada", "ada", "ben"}, "Taken by ben"}, // ada is reminded after an hour, too
		{"somebody reacts", escalation, "", true, []string{"ada"}, []string{"ada"}, "Somebody has reacted."},
		{"the first cannot be reached", "after = \"15m\"\nfor = \"ada\"", "ada", false, []string{"ben", "ben"}, []string{"ben", "ben"}, "Taken by ben"}, // of the cat, and of the channel,
		{"the first was reached", "after = \"15m\"\nfor = \"ada\"", "", true, []string{"ada"}, []string{"ada"}, "Not needed: the other channel took it."},
	} {
		t.Run(row.name, func(t *testing.T) {
			p := newPeople(t, row.out)
			data := filepath.Join(t.TempDir(), "house.db")
			settings := strings.ReplaceAll(litterHouse(t, data, p.web.URL+"/ada"), `name = "phone"`, `name = "ada"`)
			settings += fmt.Sprintf("[[webhook]]\nname = \"ben\"\nurl = \"%s/ben\"\n%s\n", p.web.URL, row.rule)
			noon := time.Date(2025, 6, 2, 12, 0, 0, 0, time.UTC)
			h := startTimed(t, data, settings, noon)
			redFlag(t, h.url)
			h.settle()
			h.killed()
			h.set(noon.Add(59 * time.Minute))
			h.settle()
			if got := p.told(); !slices.Equal(got, row.at1h) {
				t.Errorf("within the hour: %v, want %v", got, row.at1h)
			}
			if row.reacts {
				answerBy(t, strings.ReplaceAll(p.links["ada"], `\n`, " "))
			}
			h.killed()
			h.set(noon.Add(3 * time.Hour))
			h.settle()
			got := p.told()
			slices.Sort(got)
			if !slices.Equal(got, row.at3h) {
				t.Errorf("after three hours: %v, want %v", got, row.at3h)
			}
			for _, n := range h.notices() {
				if n.Channel == "ben" && n.Turn == "raised" && !strings.HasPrefix(n.Reason, row.reasons) {
					t.Errorf("ben's notice: %s", n.Reason)
				}
			}
		})
	}
}
