package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime/debug"
	"sync"
	"sync/atomic"

	"weighbeam/app"
	"weighbeam/home"
)

// setting is what one house is run by.
type setting struct {
	file string // "" for the defaults
	cfg  app.Config
}

// blamed says whose settings are wrong, where there is more than one house.
func (s setting) blamed(err error, of int) error {
	if of == 1 {
		return err
	}
	return home.Hinted(s.file, home.Hint(err), "%w", err)
}

// settingsFiles are the files that are named, and those in the folders that are named.
func settingsFiles(named []string) ([]string, error) {
	var files []string
	for _, path := range named {
		if about, err := os.Stat(path); err != nil || !about.IsDir() {
			files = append(files, path) // a file that is not there is told when it is read
			continue
		}
		inside, err := filepath.Glob(filepath.Join(path, "*.toml"))
		if err != nil {
			return nil, err
		}
		if len(inside) == 0 {
			return nil, home.Hinted("read settings", "A folder of settings holds a file for each house, as mill-lane.toml.", "there is no .toml file in %s", path)
		}
		files = append(files, inside...)
	}
	return files, nil
}

// distinct refuses houses that would stand in one another's way: with one store, with one
// household, or under one name at a broker, which would throw the one out for the other for ever.
func distinct(all []setting) error {
	owner := map[string]string{}
	for _, s := range all {
		mine := []string{"the store " + s.cfg.Data}
		if s.cfg.Household != "" {
			mine = append(mine, "the household file "+s.cfg.Household)
		}
		if m := s.cfg.MQTT; m != nil {
			mine = append(mine, fmt.Sprintf("the client %q at the broker %s", m.Client, m.Server))
		}
		for _, what := range mine {
			if other, taken := owner[what]; taken {
				return home.Hinted("read settings", "Give each house its own: data, household, and client under [mqtt].", "%s and %s both name %s", other, s.file, what)
			}
			owner[what] = s.file
		}
	}
	return nil
}

// house is one that runs.
type house struct {
	setting
	*app.App
}

type houses []house

// start starts a house for each setting. One that cannot start holds up no other: it is
// told and left out. Where none can, that is the error.
func start(ctx context.Context, t terminal, all []setting, log *slog.Logger) (houses, error) {
	var up houses
	var failed error
	var behind atomic.Int32
	behind.Add(int32(len(all)))
	for _, s := range all {
		opt := t.house
		opt.Log, opt.Version = log, version
		opt.CaughtUp = sync.OnceFunc(func() {
			if behind.Add(-1) == 0 {
				debug.FreeOSMemory() // to make everything anew takes twice what it leaves
			}
		})
		if len(all) > 1 {
			opt.Log = log.With("settings", s.file)
		}
		a, err := app.Start(ctx, s.cfg, opt)
		if err == nil {
			up = append(up, house{s, a})
			continue
		}
		opt.CaughtUp()
		if failed = errors.Join(failed, s.blamed(err, len(all))); len(all) > 1 {
			opt.Log.Error("a house does not start; the others do", "err", err, "hint", home.Hint(err))
		}
	}
	if len(up) == 0 {
		return nil, failed
	}
	return up, nil
}

// stop stops all of them side by side: each has some seconds to let its work end.
func (hs houses) stop() {
	var all sync.WaitGroup
	for _, h := range hs {
		all.Go(h.Stop)
	}
	all.Wait()
}

// live reports whether every house goes on.
func (hs houses) live(ctx context.Context) bool {
	for _, h := range hs {
		if !h.Lives(ctx) {
			return false
		}
	}
	return true
}
