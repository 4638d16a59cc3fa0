package main

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/store"
)

// houseOf is a house that goes by the clock that a file shows, and looks at it
// often; for "" one that goes by the machine's.
func houseOf(clock string) app.Options {
	if clock == "" {
		return app.Options{}
	}
	return app.Options{Round: 5 * time.Millisecond, Now: func() time.Time {
		text, err := os.ReadFile(clock)
		if err != nil {
			panic("the clock of the test: " + err.Error())
		}
		at, err := time.Parse(time.RFC3339Nano, string(text))
		if err != nil {
			panic("the clock of the test: " + err.Error())
		}
		return at
	}}
}

// timedHouse is a house with a running program whose clock the test sets.
type timedHouse struct {
	*program
	t             *testing.T
	config, clock string
	data          string // of the store
	url           string
	now           time.Time
}

// startTimed starts the program with settings that name the store at data.
func startTimed(t *testing.T, data, settings string, now time.Time) *timedHouse {
	t.Helper()
	h := &timedHouse{t: t, config: write(t, "weighbeam.toml", settings), clock: filepath.Join(t.TempDir(), "clock"), data: data}
	h.set(now)
	h.start()
	return h
}

func (h *timedHouse) start() {
	h.t.Helper()
	h.program = launchBy(h.t, h.clock, "serve", "--config", h.config)
	h.url = h.pages()
}

// killed ends the program as kill -9 does and starts it again.
func (h *timedHouse) killed() {
	h.t.Helper()
	h.kill()
	h.start()
}

// set sets the clock of the house, whole or not at all.
func (h *timedHouse) set(now time.Time) {
	h.t.Helper()
	part := h.clock + ".part"
	if err := os.WriteFile(part, []byte(now.Format(time.RFC3339Nano)), 0o600); err != nil {
		h.t.Fatal(err)
	}
	if err := os.Rename(part, h.clock); err != nil {
		h.t.Fatal(err)
	}
	h.now = now
}

// post hands in readings CSV, as a device does.
func (h *timedHouse) post(rows []string) {
	h.t.Helper()
	body := "time,source,quantity,value,unit\n" + strings.Join(rows, "\n") + "\n"
	resp, err := http.Post(h.url+"/api/v1/readings", "text/csv", strings.NewReader(body))
	if err != nil {
		h.t.Fatal(err)
	}
	defer resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		h.t.Fatalf("the readings were answered with %s", resp.Status)
	}
}

// settle waits until every stage has seen the clock and has nothing left to do,
// and nothing that is due by the clock waits for a first try.
func (h *timedHouse) settle() {
	h.t.Helper()
	for range 2 { // what one round of a stage made may be news to the one before
		after := time.Now()
		asking(h.t, 5*time.Millisecond, "the stages settle", func() (bool, string) {
			_, body := get(h.url + "/healthz")
			owed := h.owed()
			return wentRound(body, after) && len(owed) == 0, fmt.Sprintf("%s\nat %s these are owed: %+v", body, h.now, owed)
		})
	}
}

// wentRound reads /healthz: whether the stages that follow the journal have gone
// round since after and are not behind.
func wentRound(health string, after time.Time) bool {
	var all struct{ Stages []app.Stage }
	if json.Unmarshal([]byte(health), &all) != nil {
		return false
	}
	rounds := 0
	for _, s := range all.Stages {
		if s.Name == "weigh" || s.Name == "watch" {
			if s.Behind > 0 || !s.Last.After(after) {
				return false
			}
			rounds++
		}
	}
	return rounds == 2
}

// notices are all that the store holds, newest first.
func (h *timedHouse) notices() []home.Notice {
	h.t.Helper()
	db, err := store.Peek(context.Background(), h.data)
	if err != nil {
		h.t.Fatal(err)
	}
	defer db.Close()
	all, err := db.Notices(context.Background(), "")
	if err != nil {
		h.t.Fatal(err)
	}
	return all
}

// owed are the notices that are due by the clock of the house and wait for a first
// try, and those that are being sent.
func (h *timedHouse) owed() (all []home.Notice) {
	h.t.Helper()
	for _, n := range h.notices() {
		if n.State == home.Waiting && n.Attempts == 0 && !n.Due.After(h.now) || n.Reason == "Being sent." {
			all = append(all, n)
		}
	}
	return all
}
