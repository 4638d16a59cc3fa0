// Package demo runs the program in a made-up house: eight months of history,
// then live messages over MQTT from simulated devices, on a clock that runs
// faster than the machine's.
//
// It guarantees that nothing of the demo touches a real house: it has a folder
// of its own, listens on loopback only, and every page says that it is made up.
package demo

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/simulator"
	"weighbeam/store"
)

// Options of a demo.
type Options struct {
	Folder  string  // keeps the data; made if missing
	Listen  string  // host:port of the pages; another port is taken if it is in use
	Speed   float64 // how many times as fast as the machine's clock
	Seed    uint64  // which house, when the folder is new
	Out     io.Writer
	Log     *slog.Logger
	Version string
}

// story is what the folder remembers of the house it was begun with.
type story struct {
	Seed uint64    `json:"seed"`
	End  time.Time `json:"history_ends"`
}

// Run runs the demo until ctx ends.
func Run(ctx context.Context, o Options) error {
	if !(o.Speed >= 1 && o.Speed <= 10_000) {
		return home.Hinted("start the demo", "Give --speed a number from 1 to 10000.", "speed %v", o.Speed)
	}
	told, err := remember(o)
	if err != nil {
		return err
	}
	house := simulator.Demo(told.Seed, told.End)
	data := filepath.Join(o.Folder, "house.db")
	reached, err := load(ctx, data, house, o.Out)
	if err != nil {
		return err
	}
	clock := newClock(reached, o.Speed)
	a, err := start(ctx, o, data, clock)
	if err != nil {
		return err
	}
	defer a.Stop()
	fmt.Fprintf(o.Out, "A made-up house, its clock %g times as fast as yours.\n  pages   %s\n  broker  %s (MQTT)\n  data    %s (delete it to begin again)\nCtrl-C ends it.\n",
		o.Speed, a.PagesURL(), a.BrokerAddr(), o.Folder)
	return publish(ctx, a, house, clock, reached)
}

// remember reads which house the folder was begun with, or begins one.
func remember(o Options) (story, error) {
	const op = "start the demo"
	var s story
	path := filepath.Join(o.Folder, "story.json")
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		s = story{o.Seed, time.Now().UTC().Truncate(time.Minute)}
		if err := os.MkdirAll(o.Folder, 0o700); err != nil {
			return s, &home.Error{Op: op, Hint: "Choose a folder you may write to, with --data.", Err: err}
		}
		text, err := json.Marshal(s)
		if err != nil {
			return s, err
		}
		if err := os.WriteFile(path, append(text, '\n'), 0o600); err != nil {
			return s, &home.Error{Op: op, Hint: "Choose a folder you may write to, with --data.", Err: err}
		}
		return s, nil
	case err != nil:
		return s, &home.Error{Op: op, Err: err}
	}
	if err := json.Unmarshal(text, &s); err != nil || s.End.IsZero() {
		return s, home.Hinted(op, "Delete the folder to begin again.", "%s does not hold what a demo wrote", path)
	}
	return s, nil
}

// load puts the history into an empty store, and returns up to when the store knows.
func load(ctx context.Context, path string, house *simulator.House, out io.Writer) (time.Time, error) {
	db, err := store.Open(ctx, path)
	if err != nil {
		return time.Time{}, err
	}
	defer db.Close()
	if err := db.SetHousehold(ctx, house.Household()); err != nil {
		return time.Time{}, err
	}
	sources, err := db.Sources(ctx)
	if err != nil {
		return time.Time{}, err
	}
	reached := house.End()
	for _, s := range sources {
		if s.Last.After(reached) {
			reached = s.Last
		}
	}
	if len(sources) > 0 {
		return reached, nil
	}
	began := time.Now()
	history := house.History()
	for i := 0; i < len(history); i += batchSize {
		batch := home.Batch{Readings: history[i:min(i+batchSize, len(history))]}
		if _, err := db.Append(ctx, batch); err != nil {
			return time.Time{}, err
		}
	}
	fmt.Fprintf(out, "Loaded %d readings of eight months in %s.\n", len(history), time.Since(began).Round(time.Millisecond))
	return reached, nil
}

const batchSize = 1000

// start starts the program on loopback, with a channel that ends on the terminal.
func start(ctx context.Context, o Options, data string, c clock) (*app.App, error) {
	pages, err := free(o.Listen)
	if err != nil {
		return nil, err
	}
	mqtt, err := free("127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	cfg, err := app.ParseConfig(fmt.Appendf(nil, `
data = %q
listen = %q
link = "http://%s"
zone = "UTC"
[broker]
listen = %q
[[webhook]]
name = "terminal"
url = "http://%s/demo/inbox"
`, data, pages, pages, mqtt, pages))
	if err != nil {
		return nil, err
	}
	return app.Start(ctx, cfg, app.Options{
		Now: c.now, Log: o.Log, Version: o.Version, Demo: true,
		Handle: map[string]http.Handler{"POST /demo/inbox": inbox(o.Out)},
	})
}

// free returns a loopback address that can be listened on: the wanted one, or
// another port if that is in use.
func free(wanted string) (string, error) {
	l, err := net.Listen("tcp", wanted)
	if err != nil {
		if l, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
			return "", &home.Error{Op: "start the demo", Err: err}
		}
	}
	defer l.Close()
	return l.Addr().String(), nil
}

// inbox is the receiving end of the demo's channel.
func inbox(out io.Writer) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var notice struct {
			Subject string `json:"subject"`
		}
		if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, 1<<20)).Decode(&notice); err != nil {
			http.Error(w, "no notice", http.StatusBadRequest)
			return
		}
		fmt.Fprintf(out, "Notice: %s\n", notice.Subject)
		w.WriteHeader(http.StatusNoContent)
	})
}
