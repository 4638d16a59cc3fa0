package app

import (
	"context"
	"errors"
	"os"
	"slices"

	"weighbeam/home"
	"weighbeam/notify"
)

// householder lets the pages change the household.
type householder struct{ *App }

func (householder) Parse(text []byte) (home.Household, error) { return ParseHousehold(text) }
func (householder) Format(h home.Household) ([]byte, error)   { return FormatHousehold(h) }

// SetHousehold changes the household, and the household file that would else undo
// it at the next start. The file as it was is kept beside it.
func (a householder) SetHousehold(ctx context.Context, h home.Household) error {
	if err := h.Valid(); err != nil {
		return &home.Error{Op: "change the household", Err: err}
	}
	if a.cfg.Household != "" {
		if err := a.intoFile(h); err != nil {
			return &home.Error{Op: "change the household", Err: err,
				Hint: "Nothing was changed. Let the program write to the household file and its folder, or take the key household out of the settings."}
		}
	}
	return a.App.SetHousehold(ctx, h)
}

// SetHousehold changes who lives in the house, from the next reading on, and who is
// told, from the next notice on.
func (a *App) SetHousehold(ctx context.Context, h home.Household) error {
	if err := a.reachable(ctx, h); err != nil {
		return err
	}
	if err := a.router.SetHousehold(h); err != nil {
		return err
	}
	ctx = context.WithoutCancel(ctx) // a browser that gives up leaves nothing half done
	if err := a.store.SetHousehold(ctx, h); err != nil {
		return errors.Join(err, a.router.SetHousehold(*a.house.Load()))
	}
	a.house.Store(&h)
	return a.retell(ctx, h)
}

// reachable refuses contacts whose names or rules do not fit the channels of the
// settings, and notices where a scale listens. One that lacks its password is taken: it can be typed afterwards.
func (a *App) reachable(ctx context.Context, h home.Household) error {
	secrets, err := a.store.Secrets(ctx)
	if err != nil {
		return err
	}
	cfg, err := a.cfg.With(h, secrets)
	return firstOf(err, cfg.crossed(h))
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

// SetSecret keeps the password of a contact, or its address where that holds a token.
func (a householder) SetSecret(ctx context.Context, contact, secret string) error {
	return a.store.SetSecret(ctx, contact, secret)
}

func (a householder) intoFile(h home.Household) error {
	old, err := os.ReadFile(a.cfg.Household)
	if err != nil {
		return err
	}
	text, err := FormatHousehold(h)
	if err != nil {
		return err
	}
	if err := os.WriteFile(a.cfg.Household+".before", old, 0o600); err != nil {
		return err
	}
	return replaceFile(a.cfg.Household, text)
}
