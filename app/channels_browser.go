package app

import (
	"context"
	"errors"
	"net/http"
	netmail "net/mail"
	"slices"
	"strings"

	"weighbeam/dashboards"
	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/push"
	"weighbeam/store"
)

// BrowserEntry is a channel to browsers that ask, on the page of the channels, to
// be told.
type BrowserEntry struct{ Rules }

// browserTable is the table of a [BrowserEntry].
const browserTable = "browser"

// anyBrowser is the channel of that kind in a house whose settings name none.
const anyBrowser = "browser"

// browsers are the channels of that kind: those that are set, or one that needs
// no setting.
func (c Config) browsers() []BrowserEntry {
	if len(c.Browser) > 0 || slices.Contains(c.named(), anyBrowser) {
		return c.Browser
	}
	return []BrowserEntry{{Rules{Name: anyBrowser}}}
}

// pushing is how browsers are told, but for the keys.
func (c Config) pushing() push.Config {
	contact := c.PushContact
	switch {
	case contact != "":
	case strings.HasPrefix(c.Link, "https:"):
		contact = c.Link
	case len(c.Mail) > 0:
		if from, err := netmail.ParseAddress(c.Mail[0].From); err == nil {
			contact = from.Address
		}
	default:
		contact = "nobody@weighbeam.invalid" // RFC 2606: nobody's, and no name of somebody else
	}
	return push.Config{Contact: contact, Services: c.PushServices}
}

// openBook reads the browsers and makes the keys at the first start.
func (a *App) openBook(ctx context.Context) (err error) {
	if a.book, err = push.OpenBook(ctx, a.store); err != nil {
		return err
	}
	a.pushing = a.cfg.pushing()
	private, public, err := a.store.MakePushKeys(ctx, push.MakeKeys)
	a.pushing.Keys = push.Keys{Private: notify.Secret(private), Public: public}
	return err
}

// present are the channels that reach somebody: one to browsers only while a
// browser asks to be told.
func (a *App) present(channels []notify.Channel) []notify.Channel {
	browsers := a.told().cfg.browsers()
	return slices.DeleteFunc(channels, func(c notify.Channel) bool {
		isBrowser := slices.ContainsFunc(browsers, func(b BrowserEntry) bool { return b.Name == c.Name })
		return isBrowser && len(a.book.Of(c.Name)) == 0
	})
}

// scripted is the policy of the one page with script of its own.
const scripted = dashboards.Policy + "; script-src 'self'; connect-src 'self'; worker-src 'self'"

// asking is what browsers speak to when they ask to be told, or no longer.
func (a *App) asking() http.Handler {
	var names []string
	for _, b := range a.told().cfg.browsers() {
		names = append(names, b.Name)
	}
	return push.Ask(push.AskOptions{Book: a.book, Allows: a.pushing.Allows, Channels: names, Now: a.opt.Now, Trusted: origin(a.cfg.Link)})
}

// peeked is a transport to the browsers that the store knows, beside the program:
// it forgets none.
func (c Config) peeked(ctx context.Context, db *store.DB) func(channel string) (notify.Transport, error) {
	return func(channel string) (notify.Transport, error) {
		conf := c.pushing()
		private, public, err := db.PushKeys(ctx)
		if err != nil && !errors.Is(err, home.ErrNotFound) {
			return nil, err
		}
		conf.Keys = push.Keys{Private: notify.Secret(private), Public: public}
		book, err := push.OpenBook(ctx, lasting{db})
		if err != nil {
			return nil, err
		}
		return push.New(conf, book, channel), nil
	}
}

// lasting is a store that is only read.
type lasting struct{ *store.DB }

func (lasting) Unsubscribe(context.Context, string) error { return nil }

// noBrowsers is a transport of a house without a store.
func noBrowsers(string) (notify.Transport, error) { return deaf{}, nil }

type deaf struct{}

func (deaf) Send(context.Context, notify.Message) error {
	return notify.Refused("no browser asks to be told yet")
}
