package app

import (
	"context"

	"weighbeam/store/mirror"
)

// startMirror follows the store into a time-series engine, where the settings name one.
func (a *App) startMirror(context.Context) error {
	c := a.cfg.Influx
	if c == nil {
		return nil
	}
	token, err := secret(c.TokenFile)
	if err != nil {
		return err
	}
	m, err := mirror.New(a.store, mirror.Config{URL: c.URL, Token: token, Org: c.Org, Bucket: c.Bucket, Site: c.Site})
	if err != nil {
		return err
	}
	a.onStop(m.Close)
	f := a.follower(mirror.CursorName, m.Round)
	a.stages = append(a.stages, f)
	a.spawn(f.Run)
	return nil
}
