package app

import (
	"cmp"
	"context"
	"slices"

	"weighbeam/home"
	"weighbeam/notify"
	"weighbeam/store"
)

// householder lets the pages change the household.
type householder struct{ *App }

func (householder) Parse(text []byte) (home.Household, error) { return ParseHousehold(text) }
func (householder) Format(h home.Household) ([]byte, error)   { return FormatHousehold(h) }

// SetHousehold changes the household where it still is the one of that mark, with the
// secrets that were typed for contacts.
func (a householder) SetHousehold(ctx context.Context, was string, h home.Household, typed map[string]string) error {
	var secrets []store.Secret
	for contact, text := range typed {
		secrets = append(secrets, store.Secret{Contact: contact, Text: text})
	}
	return a.changer.change(ctx, became(h).unlessOther(was), secrets...)
}

// SetHousehold changes who lives in the house, from the next reading on, and who is
// told, from the next notice on.
func (a *App) SetHousehold(ctx context.Context, h home.Household) error {
	return a.changer.change(ctx, became(h))
}

// goBy lets the running program go by h, which is stored.
func (a *App) goBy(ctx context.Context, h home.Household) {
	if err := a.router.SetHousehold(h); err != nil { // it was made one of before
		a.opt.Log.Error("readings are understood as before", "err", err, "hint", home.Hint(err))
	}
	a.house.Store(&h)
	if session := a.session.Load(); session != nil {
		if err := session.SetFilters(a.cfg.MQTT.filters(h)); err != nil {
			a.opt.Log.Error("the topics of scales are not subscribed to", "err", err, "hint", home.Hint(err))
		}
	}
	if err := a.retell(ctx, h); err != nil {
		a.untold.Store(true) // see channelWatch
		a.opt.Log.Error("who is told stays as it was for now", "err", err, "hint", home.Hint(err))
	}
}

// reachable refuses contacts whose names or rules do not fit the channels of the
// settings, and notices where a scale listens. One that lacks its password is taken: it can be typed afterwards.
func (a *App) reachable(ctx context.Context, h home.Household) error {
	secrets, err := a.store.Secrets(ctx)
	if err != nil {
		return err
	}
	cfg, err := a.cfg.With(h, secrets)
	return cmp.Or(err, cfg.crossed(h))
}

// Reach says what keeps a contact from being reached with that secret, or with the one
// that is kept where that is "".
func (a householder) Reach(ctx context.Context, k home.Contact, secret string) error {
	secrets, err := a.store.Secrets(ctx)
	if err != nil {
		return err
	}
	if secret != "" {
		secrets[k.ID] = secret
	}
	_, err = Config{Broker: a.cfg.Broker, MQTT: a.cfg.MQTT, secrets: secrets}.contact(k)
	return err
}

// Channels names those that the settings have, and the names of the program's own.
func (a householder) Channels() []string {
	names := append(a.cfg.Channels(), notify.Page)
	if !slices.Contains(names, anyBrowser) {
		names = append(names, anyBrowser)
	}
	return names
}

// Vet is the practice as it is shown now.
func (a householder) Vet() (name, phone string) { return a.now().vet() }
