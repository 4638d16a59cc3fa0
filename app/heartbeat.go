package app

import (
	"context"

	"weighbeam/notify/heartbeat"
)

// startHeartbeat beats while every stage is well, if the settings name an address.
// A program that runs but cannot store or tell anything must not seem well.
func (a *App) startHeartbeat() error {
	c := a.cfg.Heartbeat
	if c == nil {
		return nil
	}
	url, err := hiddenOr(c.URL, c.URLFile)
	if err != nil {
		return err
	}
	h, err := heartbeat.New(heartbeat.Config{URL: url, Every: c.Every.Duration, Log: a.opt.Log, Well: a.well})
	if err != nil {
		return err
	}
	a.spawn(h.Run)
	return nil
}

// well reports whether every stage is well.
func (a *App) well() bool {
	ctx, cancel := context.WithTimeout(context.Background(), patience)
	defer cancel()
	for _, s := range a.Stages(ctx) {
		if !s.Well {
			return false
		}
	}
	return true
}
