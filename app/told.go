package app

import (
	"context"
	"maps"
	"slices"
	"strings"
	"sync"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/notify/mail"
	"weighbeam/notify/push"
	"weighbeam/notify/shout"
	"weighbeam/notify/webhook"
	"weighbeam/store"
)

// With is c with what the household says of who is told, and of the practice: its
// contacts come after the channels of the settings. Where c had those of another
// household, they are gone.
func (c Config) With(h home.Household, secrets map[string]string) (Config, error) {
	base := c
	if c.base != nil {
		base = *c.base
	}
	out := base
	out.base, out.contacts, out.secrets = &base, h.Contacts, secrets
	if h.Practice != "" || h.Phone != "" {
		out.Practice, out.Phone = h.Practice, h.Phone
	}
	if h.Units != "" {
		out.Units = Units{h.Units}
	}
	if h.Zone != "" {
		if err := out.Zone.UnmarshalText([]byte(h.Zone)); err != nil {
			return c, err
		}
	}
	if h.QuietFrom != "" {
		out.Quiet = QuietConfig{From: clockOf(h.QuietFrom), To: clockOf(h.QuietTo)}
	}
	for _, e := range out.written() {
		if e.table != contactTable && slices.ContainsFunc(h.Contacts, func(k home.Contact) bool { return k.ID == e.Name }) {
			return c, home.Hinted("read who is told", "Give one of the two another name.", "the settings have a channel of the name %q already", e.Name)
		}
	}
	return out, out.channels()
}

// WithStore is With, of what a store holds.
func (c Config) WithStore(ctx context.Context, db *store.DB) (Config, error) {
	h, err := db.Household(ctx)
	if err != nil {
		return c, err
	}
	secrets, err := db.Secrets(ctx)
	if err != nil {
		return c, err
	}
	return c.With(h, secrets)
}

// vet is the veterinary practice and its telephone number.
func (c Config) vet() (name, phone string) { return c.Practice, c.Phone }

// contactTable stands for the contacts among the tables of the settings.
const contactTable = "contact"

// rulesOf are the rules of a contact as the settings would say them.
func rulesOf(k home.Contact) (r Rules) {
	r = Rules{Name: k.ID, Least: Urgency{string(k.Least)}, After: Wait{k.After}, For: k.For}
	if k.Digest != "" {
		at := clockOf(k.Digest)
		r.Digest = &at
	}
	if k.QuietFrom != "" {
		r.Quiet = &QuietConfig{From: clockOf(k.QuietFrom), To: clockOf(k.QuietTo)}
	}
	return r
}

// clockOf is a time of day that was found valid.
func clockOf(text string) (c Clock) {
	_ = c.UnmarshalText([]byte(text)) // see home.Household.Valid
	return c
}

// contact is the transport to a contact.
func (c Config) contact(k home.Contact) (notify.Transport, error) {
	secret := notify.Secret(c.secrets[k.ID])
	switch k.Way {
	case home.ByMail:
		host, port, err := mailServer(k.Server)
		if err != nil {
			return nil, err
		}
		return mail.New(mail.Config{Host: host, Port: port, Encrypt: k.Encrypt, User: k.User, Password: secret, From: k.From, To: k.To})
	case home.ByTopic:
		return c.publisher(TopicEntry{Topic: k.To, Username: k.User}, secret)
	}
	if secret == "" {
		return nil, home.Hinted("read who is told", "Type it on the page of the contact.", "the address of %s is not there", k.ID)
	}
	if k.Way == home.ByService {
		return shout.New(shout.Config{URL: secret})
	}
	return webhook.New(webhook.Config{URL: secret})
}

// contactOrMute is the transport to a contact, or one that says why there is none: a
// household that was brought along without its passwords is watched over all the same.
func (c Config) contactOrMute(k home.Contact) notify.Transport {
	t, err := c.contact(k)
	if err != nil {
		return mute{err}
	}
	return t
}

type mute struct{ why error }

// Send fails so that it is tried again: what lacks can be typed meanwhile.
func (m mute) Send(context.Context, notify.Message) error {
	return notify.Unreached("%s", strings.TrimSuffix(m.why.Error()+": "+home.Hint(m.why), ": "))
}

// telling is who is told as it is now, and what tells them.
type telling struct {
	cfg    Config
	own    map[string]string // topics that notices are published on, each with its channel
	sender *notify.Sender    // nil until the program is far enough
	stop   func()            // of the sender
}

// told is who is told now.
func (a *App) told() *telling { return a.telling.Load() }

// Channels names the channels there are now, but for the usual one to browsers.
func (a *App) Channels() []string { return a.told().cfg.Channels() }

// readTold reads who is told from the store.
func (a *App) readTold(ctx context.Context) error {
	cfg, err := a.cfg.WithStore(ctx, a.store)
	if err != nil {
		return err
	}
	a.telling.Store(&telling{cfg: cfg, own: cfg.ownTopics(), stop: func() {}})
	return nil
}

// retell lets those be told whom h names. What is under way to the others ends first,
// as when the program stops: nothing is lost, and what was cut short is sent again.
// All that can fail is done before that, so that there is never nobody who tells.
func (a *App) retell(ctx context.Context, h home.Household) error {
	a.retelling.Lock()
	defer a.retelling.Unlock()
	secrets, err := a.store.Secrets(ctx)
	if err != nil {
		return err
	}
	was := a.told()
	cfg, err := a.cfg.With(h, secrets)
	if err != nil || cfg.tellsLike(was.cfg) || a.silenced {
		return err
	}
	tell, err := a.teller(ctx, cfg)
	if err != nil {
		return err
	}
	was.stop()
	a.telling.Store(tell())
	a.serveAnew()
	return nil
}

// silence stops the sender for good.
func (a *App) silence() {
	a.retelling.Lock()
	defer a.retelling.Unlock()
	a.silenced = true
	a.told().stop()
}

// tellsLike reports whether c says of who is told, and of what the house goes by, the
// same as other.
func (c Config) tellsLike(other Config) bool {
	return slices.Equal(c.contacts, other.contacts) && maps.Equal(c.secrets, other.secrets) && c.Practice == other.Practice && c.Phone == other.Phone &&
		c.Units == other.Units && c.Zone.location().String() == other.Zone.location().String() && c.Quiet == other.Quiet
}

// now is the settings with the household as it is now.
func (a *App) now() Config {
	if t := a.told(); t != nil {
		return t.cfg
	}
	return a.cfg
}

// teller makes ready what tells those whom cfg names. What it returns lets it run.
func (a *App) teller(ctx context.Context, cfg Config) (func() *telling, error) {
	routes, err := cfg.routes(func(channel string) (notify.Transport, error) { return push.New(a.pushing, a.book, channel), nil })
	if err != nil {
		return nil, err
	}
	known, err := a.store.Channels(ctx)
	if err != nil {
		return nil, err
	}
	return func() *telling {
		if now, err := a.store.Channels(ctx); err == nil {
			known = now // with what the sender before has remembered at its end
		}
		sender := notify.New(a.store, routes, notify.Options{
			Now: a.opt.Now, Idle: a.idle(), Log: a.opt.Log, Reactions: a.store.Reactions, Known: known, Remember: a.store.SaveChannel,
			Chart: a.chart(),
		})
		runCtx, cancel := context.WithCancel(context.Background())
		var running sync.WaitGroup
		running.Go(func() { sender.Run(runCtx) })
		return &telling{cfg: cfg, own: cfg.ownTopics(), sender: sender, stop: func() {
			cancel()
			running.Wait()
		}}
	}, nil
}
