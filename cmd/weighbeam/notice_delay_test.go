package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
)

// One finding after the other reaches the receiver, each once. The log says how
// long that took from the commit of the finding to the receiver: few of them in a
// normal test, many with WEIGHBEAM_LONG.
func TestServe_EachFindingReachesTheReceiver(t *testing.T) {
	cats := 8
	if os.Getenv("WEIGHBEAM_LONG") != "" {
		cats = 300
	}
	var mu sync.Mutex
	var delays []time.Duration
	copies := map[string]int{}
	web := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		at := time.Now()
		var m struct {
			ID      string
			Created time.Time // just before the commit
		}
		b, err := io.ReadAll(r.Body)
		if err != nil || json.Unmarshal(b, &m) != nil {
			t.Errorf("not JSON: %q", b)
		}
		mu.Lock()
		defer mu.Unlock()
		copies[m.ID]++
		delays = append(delays, at.Sub(m.Created))
	}))
	t.Cleanup(web.Close)
	household := ""
	for i := range cats {
		household += fmt.Sprintf("[[cat]]\nid = \"cat-%d\"\nname = \"Cat %[1]d\"\n", i)
	}
	p := launch(t, "serve", "--config", write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"\n[[webhook]]\nname = \"phone\"\nurl = %q\n",
		filepath.Join(t.TempDir(), "house.db"), port(t), write(t, "household.toml", household), port(t), web.URL)))
	url := p.pages()
	arrived := func() int {
		mu.Lock()
		defer mu.Unlock()
		return len(copies)
	}
	for i := range cats {
		flagOf(t, fmt.Sprintf("cat-%d", i), url, fmt.Sprintf("check-%d", i), home.OpenMouth)
		asking(t, time.Millisecond, "it arrives", func() (bool, string) { return arrived() > i, p.output() })
	}
	if code := p.interrupt(); code != 0 { // ends only after tries under way
		t.Fatalf("ended with %d:\n%s", code, p.output())
	}
	if len(copies) != cats || len(delays) != cats {
		t.Errorf("%d findings, %d messages, %d copies", cats, len(copies), len(delays))
	}
	slices.Sort(delays)
	t.Logf("from the commit of a finding to the receiver, %d findings: median %s, 9 in 10 within %s, longest %s",
		cats, delays[cats/2], delays[cats*9/10], delays[cats-1])
}
