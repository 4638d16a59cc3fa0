package main

import (
	"context"
	"database/sql"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/simulator"
)

// troubledDay is a house to which one fault after another happens while its scales go
// on talking and its people go on looking.
type troubledDay struct {
	*timedHouse
	rng       *rand.Rand
	household home.Household
	phone     *phone
	hookUp    atomic.Bool
	engine    *engineStub
	rows      []string // acknowledged
	flags     int
	tally     map[string]int // of the faults
}

// once tries to hand rows in.
func (d *troubledDay) once(rows []string) (ok bool, why string) {
	body := "time,source,quantity,value,unit\n" + strings.Join(rows, "\n") + "\n"
	req, err := http.NewRequestWithContext(context.Background(), http.MethodPost, d.url+"/api/v1/readings", strings.NewReader(body))
	if err != nil {
		return false, err.Error()
	}
	req.Header.Set("Content-Type", "text/csv")
	req.Header.Set("Idempotency-Key", fmt.Sprintf("rows-%d", len(d.rows)))
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return false, err.Error()
	}
	resp.Body.Close()
	return resp.StatusCode == http.StatusOK, resp.Status
}

// hands hands rows in until they are acknowledged, as a device does that has no other
// memory than what it holds; what it sends again carries the key of the first.
func (d *troubledDay) hands(rows []string) {
	d.t.Helper()
	eventually(d.t, "the readings are acknowledged", func() (bool, string) { return d.once(rows) })
	d.rows = append(d.rows, rows...)
}

// fault lets one thing go wrong while rows are handed in, and mends it.
func (d *troubledDay) fault(rows []string) {
	d.t.Helper()
	faults := []string{"kill", "end", "disk full", "held", "receiver", "engine", "clock"}
	name := faults[d.rng.IntN(len(faults))]
	d.tally[name]++
	switch name {
	case "kill": // in the middle of what it does
		tried := make(chan struct{})
		go func() { defer close(tried); _, _ = d.once(rows) }()
		<-time.After(time.Duration(d.rng.IntN(8000)) * time.Microsecond) // when is what is drawn
		d.kill()
		<-tried
		d.start()
	case "end":
		if code := d.terminate(); code != 0 {
			d.t.Errorf("ended with %d:\n%s", code, d.output())
		}
		d.start()
	case "disk full":
		pid, mended := d.cmd.Process.Pid, make(chan struct{})
		d.grows(pid, 4096)
		time.AfterFunc(300*time.Millisecond, func() { defer close(mended); d.grows(pid, unix.RLIM_INFINITY) })
		defer func() { <-mended }()
	case "held":
		defer d.held(200 * time.Millisecond)()
	case "receiver":
		d.hookUp.Store(!d.hookUp.Load())
	case "engine":
		d.engine.away.Store(!d.engine.away.Load())
	case "clock": // ahead, and back
		now := d.now
		d.set(now.Add(time.Hour))
		defer d.set(now)
	}
	d.hands(rows)
}

// grows says how long a file of a program may become.
func (d *troubledDay) grows(pid int, n uint64) {
	if err := unix.Prlimit(pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: n, Max: unix.RLIM_INFINITY}, nil); err != nil {
		d.t.Error(err)
	}
}

// held lets another program have the store for a while.
func (d *troubledDay) held(span time.Duration) (over func()) {
	d.t.Helper()
	other, err := sql.Open("sqlite", "file:"+d.data+"?_txlock=immediate&_pragma=busy_timeout(30000)")
	if err != nil {
		d.t.Fatal(err)
	}
	hold, err := other.BeginTx(context.Background(), nil)
	if err != nil {
		d.t.Fatal(err)
	}
	let := time.AfterFunc(span, func() { _ = hold.Rollback() })
	return func() {
		let.Stop()
		_ = hold.Rollback() // it may be over
		other.Close()
	}
}

// sees lets a person see something that cannot wait.
func (d *troubledDay) sees() {
	d.t.Helper()
	flags := home.RedFlags()
	cat := d.household.Cats[d.rng.IntN(len(d.household.Cats))].ID
	d.flags++
	flagOf(d.t, cat, d.url, fmt.Sprintf("seen-%d", d.flags), flags[d.rng.IntN(len(flags))])
}

// troubledSettings are those of a house with a receiver and an engine.
func troubledSettings(t *testing.T, data string, h home.Household, more string) string {
	t.Helper()
	file, err := app.FormatHousehold(h)
	if err != nil {
		t.Fatal(err)
	}
	return fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nzone = \"UTC\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"\n%s",
		data, port(t), write(t, "household.toml", string(file)), port(t), more)
}

func newTroubledDay(t *testing.T, seed uint64, h home.Household, now time.Time) *troubledDay {
	t.Helper()
	d := &troubledDay{rng: rand.New(rand.NewPCG(seed, 0)), phone: newPhone(t), engine: newEngineStub(t), household: h, tally: map[string]int{}}
	d.hookUp.Store(true)
	hook := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !d.hookUp.Load() {
			w.WriteHeader(http.StatusServiceUnavailable)
			return
		}
		d.phone.web.Config.Handler.ServeHTTP(w, r)
	}))
	t.Cleanup(hook.Close)
	data := filepath.Join(t.TempDir(), "house.db")
	more := fmt.Sprintf("[influx]\nurl = %q\nbucket = \"home\"\n[[webhook]]\nname = \"phone\"\nurl = %q\n", d.engine.URL, hook.URL)
	d.timedHouse = startTimed(t, data, troubledSettings(t, data, h, more), now)
	return d
}

// heals lets everything be well again and waits until nothing is owed.
func (d *troubledDay) heals() {
	d.t.Helper()
	d.hookUp.Store(true)
	d.engine.away.Store(false)
	d.set(d.now.Add(30 * time.Minute)) // past what watching stays behind the clock
	// A channel that failed last is not well until it takes something; then it rests no longer.
	resp, err := http.PostForm(d.url+"/notices/try", url.Values{"channel": {"phone"}})
	if err != nil {
		d.t.Fatal(err)
	}
	resp.Body.Close()
	d.settle()
	eventually(d.t, "everything is well and told and mirrored", func() (bool, string) {
		status, body := get(d.url + "/healthz")
		due := slices.ContainsFunc(d.notices(), func(n home.Notice) bool { return n.State == home.Waiting && !n.Due.After(d.now) })
		return status == http.StatusOK && !due && len(d.owed()) == 0 && !strings.Contains(body, `"behind": `), body
	})
	look(d.t, d.url)
	if code := d.terminate(); code != 0 {
		d.t.Errorf("ended with %d:\n%s", code, d.output())
	}
}

// drawn is what faults are drawn from, another each time; WEIGHBEAM_SEED draws the same
// faults again, though not at the same moments.
func drawn(t *testing.T) uint64 {
	t.Helper()
	seed := uint64(time.Now().UnixNano())
	if text := os.Getenv("WEIGHBEAM_SEED"); text != "" {
		var err error
		if seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			t.Fatalf("WEIGHBEAM_SEED: %v", err)
		}
	}
	t.Logf("seed %d: WEIGHBEAM_SEED=%[1]d go test -count=1 -run '^%s$' ./cmd/weighbeam", seed, t.Name())
	return seed
}

// A day of faults drawn at random: what was acknowledged is stored once, the visits are
// those of a day without faults, everybody is told of everything, the mirror has it
// all, and the counts agree whenever they are looked at.
func TestServe_DayOfFaults(t *testing.T) {
	steps, step := 48, 15*time.Minute
	if long() {
		steps, step = 288, 5*time.Minute
	}
	seed := drawn(t)
	began := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)
	sim, err := simulator.New(simulator.Options{Seed: 5, Start: began, Days: 2, Cats: 3, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	d := newTroubledDay(t, seed, sim.Household(), began)
	var rows []string
	var times []time.Time
	for r := range sim.Load() {
		rows = append(rows, fmt.Sprintf("%s,%s,load,%s,kg", r.Time.Format(time.RFC3339Nano), r.Source, fmt.Sprint(r.Value)))
		times = append(times, r.Time)
	}
	for i, next := 0, 0; i < steps; i++ {
		d.set(began.Add(time.Duration(i+1) * step))
		from := next
		for next < len(times) && !times[next].After(d.now) {
			next++
		}
		if d.rng.IntN(2) == 0 {
			d.fault(rows[from:next])
		} else {
			d.hands(rows[from:next])
		}
		if d.rng.IntN(8) == 0 {
			d.sees()
		}
		look(t, d.url) // received is stored, duplicate and set aside
	}
	t.Logf("%d readings in %d steps, %d times something seen, faults %v", len(d.rows), steps, d.flags, d.tally)
	d.heals()
	d.agrees()
}
