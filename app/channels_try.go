package app

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"weighbeam/dashboards"
	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/desk"
	"weighbeam/store"
)

// kinds are the tables of the settings in words.
var kinds = map[string]string{
	"webhook": "JSON to an address",
	"mail":    "mail",
	"command": "a program of this machine",
	"topic":   "a topic of the broker",
	"service": "a message service",

	browserTable: "the browsers that ask for it",
}

// Ways lists the channels, in the order of the settings.
func (c Config) Ways() []desk.Way {
	rules := c.rules()
	var ways []desk.Way
	for i, e := range c.entries() {
		kind := kinds[e.table]
		if e.table == contactTable {
			kind = kinds[string(e.way)]
		}
		ways = append(ways, desk.Way{Channel: rules[i], Kind: kind, Browser: e.table == browserTable, Ours: e.table == contactTable})
	}
	return ways
}

// desk is the page of the channels.
func (a *App) desk(zone *time.Location) http.Handler {
	return desk.New(desk.Options{
		Zone: zone, Ways: func() []desk.Way { return a.told().cfg.Ways() },
		Health: func() notify.Health { return a.told().sender.Health() },
		Try:    func(ctx context.Context, channel string) error { return a.told().sender.Try(ctx, channel) },
		Frame:  dashboards.NewFrame(a.look()), Trusted: origin(a.cfg.Link),
		PushKey: a.pushing.Keys.Public, Browsers: func(channel string) int { return len(a.book.Of(channel)) }, Policy: scripted,
	})
}

// origin is the scheme and host of an address, "" for none.
func origin(address string) string {
	u, err := url.Parse(address)
	if err != nil || u.Host == "" {
		return ""
	}
	return u.Scheme + "://" + u.Host
}

// TryChannel sends a message that asks for nothing over one channel of the
// settings, whether the program runs or not, and returns how long that took. Its
// error says, without secrets, why the channel did not take it. db is the store,
// only read; nil where there is none yet.
func (c Config) TryChannel(ctx context.Context, db *store.DB, name string, now func() time.Time) (time.Duration, error) {
	browser := noBrowsers
	if db != nil {
		var err error
		if c, err = c.WithStore(ctx, db); err != nil {
			return 0, err
		}
		browser = c.peeked(ctx, db)
	}
	routes, err := c.routes(browser)
	if err != nil {
		return 0, err
	}
	began := time.Now()
	err = notify.New(nil, routes, notify.Options{Now: now}).Try(ctx, name)
	took := time.Since(began)
	var f *notify.Failure
	switch {
	case errors.Is(err, home.ErrNotFound):
		return 0, c.noChannel(name)
	case errors.As(err, &f):
		return took, &home.Error{Op: "try " + name, Err: f, Hint: tryHint(f)}
	}
	return took, err
}

func (c Config) noChannel(name string) error {
	hint := "There is no channel at all: add somebody on the page Notices, or a table to the settings, as deploy/weighbeam.toml shows."
	if names := c.Channels(); len(names) > 0 {
		hint = "There are: " + strings.Join(names, ", ") + "."
	}
	return home.Hinted("try "+name, hint, "there is no channel of that name")
}

func tryHint(f *notify.Failure) string {
	if f.Retry {
		return fmt.Sprintf("A notice would be tried again, up to %d times in about a day. See whether the receiver runs and the settings of the channel are right.", notify.DefaultTries)
	}
	return "A notice would be given up at once: trying again does not help. Correct the settings of the channel."
}
