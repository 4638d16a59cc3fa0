package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"
	"runtime/debug"

	"weighbeam/app"
)

type serveCmd struct {
	Config    []string `help:"Settings file; without it, safe defaults hold. Given several times, or a folder of them: as many houses in one process." type:"path" placeholder:"FILE" sep:"none"`
	Household string   `help:"Household file, in place of the key household." type:"path" placeholder:"FILE"`
	Check     bool     `help:"Only check the settings and quit."`
}

func (s serveCmd) Run(ctx context.Context, t terminal) error {
	all, err := s.settings()
	if err != nil {
		return err
	}
	if s.Check {
		for _, one := range all {
			if err := one.cfg.Usable(); err != nil {
				return one.blamed(err, len(all))
			}
		}
		fmt.Fprintln(t.out, "The settings can be used.")
		return nil
	}
	log := logger(t.err, all[0].cfg.LogLevel())
	slog.SetDefault(log) // the pages say what went wrong with it
	collectLess(len(all))
	houses, err := start(ctx, t, all, log)
	if err != nil {
		return err
	}
	defer houses.stop()
	for _, h := range houses {
		h.greet(t)
	}
	tellSystemd(ctx, houses.live, log)
	log.Info("stopping")
	return nil
}

// collectLess lets garbage grow to twice what is in use before it is collected: a house
// has a few MB in use, and in a flood of readings to collect whenever that doubles is a
// tenth of all work. With more houses it is no longer little. GOGC overrules it.
func collectLess(houses int) {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(max(100, 200/houses))
	}
}

// greet says what was chosen, so that nobody has to guess.
func (h house) greet(t terminal) {
	from := "no settings file: defaults"
	if h.file != "" {
		from = h.file
	}
	fmt.Fprintf(t.out, "Watching (%s).\n  pages   %s\n  data    %s\n", from, h.PagesURL(), h.cfg.Data)
	if addr := h.BrokerAddr(); addr != "" {
		fmt.Fprintf(t.out, "  broker  %s (MQTT, inside)\n", addr)
	}
	if m := h.cfg.MQTT; m != nil {
		fmt.Fprintf(t.out, "  broker  %s (MQTT, as %s, topics %v)\n", m.Server, m.Client, m.Topics)
	}
	if len(h.Channels()) == 0 {
		fmt.Fprintln(t.out, "  notices only on the pages: nobody is told; say who on the page Notices")
	}
}

// settings reads what the flags name.
func (s serveCmd) settings() ([]setting, error) {
	files, err := settingsFiles(s.Config)
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		files = []string{""}
	}
	all := make([]setting, len(files))
	for i, file := range files {
		cfg, err := app.ParseConfig(nil)
		if file != "" {
			cfg, err = app.ReadConfig(file)
		}
		if err != nil {
			return nil, err
		}
		if s.Household != "" {
			cfg.Household = s.Household
		}
		all[i] = setting{file, cfg}
	}
	return all, distinct(all)
}
