package app

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/app/replay"
	"weighbeam/detect"
	"weighbeam/detect/watch"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/weigh"
	"weighbeam/simulator"
	"weighbeam/store"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// liveHouse is a running program whose clock the test sets, and its devices.
type liveHouse struct {
	*App
	t      *testing.T
	clock  atomic.Pointer[time.Time]
	device paho.Client
	topics map[string]string
}

func startLive(t *testing.T, h home.Household, at time.Time) *liveHouse {
	t.Helper()
	return startLiveWith(t, h, at, "")
}

// startLiveWith starts a house with further settings.
func startLiveWith(t *testing.T, h home.Household, at time.Time, settings string) *liveHouse {
	t.Helper()
	l := &liveHouse{t: t, topics: map[string]string{}}
	l.clock.Store(&at)
	cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n%s", filepath.Join(t.TempDir(), "house.db"), settings))
	if err != nil {
		t.Fatal(err)
	}
	l.App, err = Start(t.Context(), cfg, Options{
		Now: func() time.Time { return *l.clock.Load() }, Round: 2 * time.Millisecond,
		Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.Stop)
	if err := l.SetHousehold(t.Context(), h); err != nil {
		t.Fatal(err)
	}
	for _, s := range h.Scales {
		l.topics[s.ID] = s.Topic
	}
	l.device = paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + l.BrokerAddr()).SetClientID("devices"))
	if token := l.device.Connect(); !token.WaitTimeout(10*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	t.Cleanup(func() { l.device.Disconnect(0) })
	return l
}

// say hands readings in as devices and people do, and waits for each acknowledgement.
func (l *liveHouse) say(readings []home.Reading) {
	l.t.Helper()
	type record struct {
		Name  string  `json:"n"`
		Unit  string  `json:"u"`
		Time  float64 `json:"t"`
		Value float64 `json:"v"`
	}
	packs := map[string][]record{}
	var hand []home.Reading
	for _, r := range readings {
		if _, ok := l.topics[r.Source]; !ok {
			hand = append(hand, r)
			continue
		}
		packs[r.Source] = append(packs[r.Source], record{r.Source + ":" + string(r.Quantity), r.Quantity.Unit(), float64(r.Time.UnixMicro()) / 1e6, r.Value})
	}
	for source, pack := range packs {
		for part := range slices.Chunk(pack, 2000) {
			body, err := json.Marshal(part)
			if err != nil {
				l.t.Fatal(err)
			}
			token := l.device.Publish(l.topics[source], 1, false, body)
			if !token.WaitTimeout(20*time.Second) || token.Error() != nil {
				l.t.Fatalf("publish: %v", token.Error())
			}
		}
	}
	done := make(chan error, 1)
	err := l.Deliver(l.t.Context(), ingest.Delivery{Way: ingest.WayImport, Ready: &home.Batch{Readings: hand}, Settle: func(err error) { done <- err }})
	if err != nil {
		l.t.Fatal(err)
	}
	if err := <-done; err != nil {
		l.t.Fatal(err)
	}
}

// live plays the readings as a house would: each step of time, then what was
// said in it, to the stages as they run.
func (l *liveHouse) live(readings []home.Reading, step time.Duration) {
	l.t.Helper()
	for i := 0; i < len(readings); {
		until := readings[i].Time.Truncate(step).Add(step)
		from := i
		for i < len(readings) && readings[i].Time.Before(until) {
			i++
		}
		at := readings[i-1].Time
		l.clock.Store(&at)
		l.say(readings[from:i])
	}
	end := readings[len(readings)-1].Time.Add(weigh.Hold + watch.Lag + time.Minute) // as a replay ends
	l.clock.Store(&end)
	l.settle()
}

// settle waits until the stages have seen the clock and have nothing left to do.
func (l *liveHouse) settle() {
	l.t.Helper()
	after := time.Now()
	deadline := after.Add(30 * time.Second)
	for calm := 0; calm < 2; {
		if time.Now().After(deadline) {
			l.t.Fatalf("the stages do not settle: %+v", l.Stages(l.t.Context()))
		}
		if l.weigher.Reached().Before(*l.clock.Load()) || !l.wentRound(after) || l.behind() {
			<-time.After(time.Millisecond)
			continue
		}
		calm++
		after = time.Now()
	}
}

// wentRound reports whether every stage has finished a round since after.
func (l *liveHouse) wentRound(after time.Time) bool {
	l.t.Helper()
	for _, f := range l.stages {
		last, _, err := f.Health()
		if err != nil {
			l.t.Fatal(err)
		}
		if !last.After(after) {
			return false
		}
	}
	return true
}

func (l *liveHouse) behind() bool {
	for _, s := range l.Stages(l.t.Context()) {
		if (s.Name == "weigh" || s.Name == "watch") && s.Behind > 0 {
			return true
		}
	}
	return false
}

// tale is what was found, in words that can be compared.
func tale(findings []home.Finding) string {
	var lines []string
	for _, f := range findings {
		lines = append(lines, fmt.Sprintf("%s %s raised %s closed %s onset %s rate %.6f: %s",
			f.Subject(), f.Sign, f.Raised.Format(time.RFC3339Nano), f.Closed.Format(time.RFC3339Nano), f.Onset.Format(time.DateOnly), f.Rate, f.Text))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// replayed is what a replay of the same readings finds: each finding as it is last.
func replayed(h home.Household, readings []home.Reading) (map[string]home.Finding, []home.Visit) {
	p := replay.New(h, nil, detect.Options{})
	for _, r := range readings {
		p.Step(r)
	}
	var visits []home.Visit
	for _, e := range p.End() {
		if v, ok := e.Visit(); ok {
			visits = append(visits, v)
		}
	}
	last := map[string]home.Finding{}
	for _, t := range p.Turned() {
		last[t.Finding.ID()] = t.Finding
	}
	return last, visits
}

// A live run, through the broker, the store and the stages, finds what a replay
// of the same readings finds: the same findings, raised at the same moments,
// with the same figures.
func TestApp_LiveAndReplayAgree(t *testing.T) {
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	house, err := simulator.New(simulator.Options{Seed: 11, Start: start, Days: 150, Cats: 3, Unwell: 2, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	readings := house.History()
	l := startLive(t, house.Household(), start)
	l.live(readings, time.Minute)

	live, err := l.Store().Findings(t.Context(), false, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	last, _ := replayed(house.Household(), readings)
	var want []home.Finding
	for _, f := range last {
		want = append(want, f)
	}
	if len(want) < 2 {
		t.Fatalf("the replay found only %d things: nothing is proved", len(want))
	}
	if got := tale(live); got != tale(want) {
		t.Errorf("live:\n%s\n\nreplay:\n%s", got, tale(want))
	}
	seenAsStored(t, l, readings[len(readings)/3].Time, readings[2*len(readings)/3].Time)
	notices, err := l.Store().Notices(t.Context(), "")
	if err != nil || len(notices) == 0 {
		t.Errorf("%d notices, %v", len(notices), err)
	}
}

// The same for the raw load of scales: the same visits, of the same cats.
func TestApp_LiveAndReplayAgreeOnVisits(t *testing.T) {
	start := time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC)
	house, err := simulator.New(simulator.Options{Seed: 5, Start: start, Days: 5, Cats: 2, Scales: 2})
	if err != nil {
		t.Fatal(err)
	}
	readings := slices.Collect(house.Load())
	l := startLive(t, house.Household(), start)
	l.live(readings, 5*time.Minute)
	live, err := l.Store().Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	seenAsStored(t, l, readings[len(readings)/3].Time, readings[2*len(readings)/3].Time)
	_, want := replayed(house.Household(), readings)
	if len(want) < 20 {
		t.Fatalf("only %d visits: nothing is proved", len(want))
	}
	if got, want := stays(live), stays(want); got != want {
		t.Errorf("live:\n%s\n\nreplay:\n%s", got, want)
	}
}

// seenAsStored proves that what is drawn from memory is what the store holds, in whole
// and between two moments.
func seenAsStored(t *testing.T, l *liveHouse, from, to time.Time) {
	t.Helper()
	seen, n := seenStore{l.store, l.watcher}, 0
	if !l.watcher.CaughtUp() {
		t.Fatal("the watcher has not caught up: nothing is proved")
	}
	for _, c := range l.house.Load().Cats {
		for _, span := range [][2]time.Time{{}, {from, to}} {
			got, err := seen.Weighings(t.Context(), c.ID, span[0], span[1])
			want, err2 := l.store.Weighings(t.Context(), c.ID, span[0], span[1])
			if err != nil || err2 != nil || !slices.Equal(got, want) {
				t.Errorf("%s: %d weighings in memory, %d stored, %v, %v", c.ID, len(got), len(want), err, err2)
			}
			visits, err := seen.VisitsOf(t.Context(), c.ID, span[0], span[1])
			kept, err2 := l.store.VisitsOf(t.Context(), c.ID, span[0], span[1])
			if err != nil || err2 != nil || !reflect.DeepEqual(visits, kept) {
				t.Errorf("%s: %d visits in memory, %d stored, %v, %v", c.ID, len(visits), len(kept), err, err2)
			}
			n += len(got) + len(visits)
		}
	}
	if n == 0 {
		t.Error("there is nothing: nothing is proved")
	}
}

func stays(visits []home.Visit) string {
	var lines []string
	for _, v := range visits {
		lines = append(lines, fmt.Sprintf("%s %s %s %s %.4f %s", v.Start.Format(time.RFC3339), v.Source, v.End.Format(time.TimeOnly), v.Event, v.MassKg, v.Cat))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

func openStore(t interface{ Fatal(...any) }, dir string) *store.DB {
	db, err := store.Open(context.Background(), filepath.Join(dir, "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	return db
}
