package main

import (
	"context"
	"fmt"

	"weighbeam/app"
)

type serveCmd struct {
	Config    string `help:"Settings file; without it, safe defaults hold." type:"path" placeholder:"FILE"`
	Household string `help:"Household file, in place of the key household." type:"path" placeholder:"FILE"`
	Check     bool   `help:"Only check the settings and quit."`
}

func (s serveCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := s.settings()
	if err != nil {
		return err
	}
	if s.Check {
		if err := cfg.Usable(); err != nil {
			return err
		}
		fmt.Fprintln(t.out, "The settings can be used.")
		return nil
	}
	log := logger(t.err, cfg.LogLevel())
	house := t.house
	house.Log, house.Version = log, version
	a, err := app.Start(ctx, cfg, house)
	if err != nil {
		return err
	}
	defer a.Stop()
	s.greet(t, a, cfg)
	tellSystemd(ctx, a, log)
	log.Info("stopping")
	return nil
}

func (s serveCmd) settings() (app.Config, error) {
	cfg, err := app.ParseConfig(nil)
	if s.Config != "" {
		cfg, err = app.ReadConfig(s.Config)
	}
	if s.Household != "" {
		cfg.Household = s.Household
	}
	return cfg, err
}

// greet says what was chosen, so that nobody has to guess.
func (s serveCmd) greet(t terminal, a *app.App, cfg app.Config) {
	from := "no settings file: defaults"
	if s.Config != "" {
		from = s.Config
	}
	fmt.Fprintf(t.out, "Watching (%s).\n  pages   %s\n  data    %s\n", from, a.PagesURL(), cfg.Data)
	if addr := a.BrokerAddr(); addr != "" {
		fmt.Fprintf(t.out, "  broker  %s (MQTT, inside)\n", addr)
	}
	if cfg.MQTT != nil {
		fmt.Fprintf(t.out, "  broker  %s (MQTT, as %s, topics %v)\n", cfg.MQTT.Server, cfg.MQTT.Client, cfg.MQTT.Topics)
	}
	if len(a.Channels()) == 0 {
		fmt.Fprintln(t.out, "  notices only on the pages: nobody is told; say who on the page Notices")
	}
}
