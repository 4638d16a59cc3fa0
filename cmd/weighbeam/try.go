package main

import (
	"context"
	"fmt"
	"os"
	"text/tabwriter"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/store"
)

type tryCmd struct {
	where
	Channel string `arg:"" optional:"" help:"Name of the channel; without it, the channels and how each fared are listed."`
}

// Run tries a channel beside the program, which may run meanwhile: it sends one
// message that asks for nothing and leaves the store alone.
func (c tryCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := c.settings()
	if err != nil {
		return err
	}
	if c.Channel == "" {
		return c.list(ctx, t, cfg)
	}
	db, err := c.store(ctx, cfg.Data)
	if err != nil {
		return err
	}
	if db != nil {
		defer db.Close()
	}
	took, err := cfg.TryChannel(ctx, db, c.Channel, time.Now)
	if err != nil {
		return err
	}
	fmt.Fprintf(t.out, "%s took a message that asks for nothing, after %.2f s. Look whether it arrived.\n", c.Channel, took.Seconds())
	return nil
}

func (c tryCmd) settings() (app.Config, error) {
	cfg, err := app.ParseConfig(nil)
	if c.Config != "" {
		cfg, err = app.ReadConfig(c.Config)
	}
	if c.Data != "" {
		cfg.Data = c.Data
	}
	return cfg, err
}

// list shows the channels and, where there is a store, when each last took a
// message and when it last did not.
func (c tryCmd) list(ctx context.Context, t terminal, cfg app.Config) error {
	known := map[string]home.ChannelRecord{}
	db, err := c.store(ctx, cfg.Data)
	if err != nil {
		return err
	}
	if db != nil {
		defer db.Close()
		if cfg, err = cfg.WithStore(ctx, db); err != nil {
			return err
		}
		records, err := db.Channels(ctx)
		if err != nil {
			return err
		}
		for _, r := range records {
			known[r.Channel] = r
		}
	}
	return c.write(t, cfg, known)
}

func (c tryCmd) write(t terminal, cfg app.Config, known map[string]home.ChannelRecord) error {
	ways := cfg.Ways()
	w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "CHANNEL\tBY\tLAST TOOK\tLAST FAILED\tTELLS")
	for _, way := range ways {
		r := known[way.Name]
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", way.Name, way.Kind, when(r.Took), when(r.Failed), way.Words())
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if len(cfg.Channels()) == 0 {
		fmt.Fprintln(t.out, "No channel is set: until somebody is added, or a browser asks, on the page Notices, findings are shown on the pages only.")
	}
	for _, way := range ways {
		if r := known[way.Name]; r.Failed.After(r.Took) {
			fmt.Fprintf(t.out, "%s did not take the last one: %s.\n", way.Name, r.Why)
		}
	}
	return nil
}

// store is the store, only to read; nil where there is none yet.
func (c tryCmd) store(ctx context.Context, path string) (*store.DB, error) {
	if _, err := os.Stat(path); err != nil {
		return nil, nil
	}
	return store.Peek(ctx, path)
}

func when(t time.Time) string {
	if t.IsZero() {
		return "never"
	}
	return t.Local().Format("2 Jan 2006 15:04")
}
