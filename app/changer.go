package app

import (
	"bytes"
	"context"
	"errors"
	"os"
	"sync"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/store"
)

// changer changes the household. It is the one way to do that, for the pages, for a
// claim and for the commands: one at a time, from what the household is then, first in
// the household file where there is one, then in the store, then in what runs.
type changer struct {
	db   *store.DB
	file string // the household file, "" for none

	// Of a program that runs: what it cannot live with, and how it is let know.
	fits func(ctx context.Context, h home.Household) error
	live func(ctx context.Context, h home.Household)

	changing sync.Mutex
}

const opChange = "change the household"

// edit says what becomes of the household, and of the text of its file; without a file
// the text is nil, and what becomes of it counts for nothing.
type edit func(now home.Household, text []byte) (want home.Household, changed []byte, err error)

// became is an edit that asks for nothing but want.
func became(want home.Household) edit {
	return func(home.Household, []byte) (home.Household, []byte, error) {
		text, err := FormatHousehold(want)
		return want, text, err
	}
}

// unlessOther is e where the household still is the one with that mark.
func (e edit) unlessOther(mark string) edit {
	return func(now home.Household, text []byte) (home.Household, []byte, error) {
		if now.Mark() != mark {
			return now, text, &home.Error{Op: opChange, Hint: "Look at how it is now, and change it again.", Err: home.ErrChanged}
		}
		return e(now, text)
	}
}

// change makes of the household what e says. On an error nothing has changed.
func (c *changer) change(ctx context.Context, e edit, secrets ...store.Secret) error {
	c.changing.Lock()
	defer c.changing.Unlock()
	now, text, err := c.now(ctx)
	if err != nil {
		return err
	}
	want, changed, err := e(now, text)
	if err != nil {
		return err
	}
	if err := c.check(ctx, want); err != nil {
		return err
	}
	if c.file == "" {
		return c.keep(ctx, want, secrets...)
	}
	if err := c.write(text, changed); err != nil {
		return &home.Error{Op: opChange, Err: err,
			Hint: "Nothing was changed. Let the program write to the household file and its folder, or take the key household out of the settings."}
	}
	if err := c.keep(ctx, want, secrets...); err != nil {
		return errors.Join(err, c.write(changed, text))
	}
	return nil
}

// adopt lets the household be what its file says, where there is one.
func (c *changer) adopt(ctx context.Context) error {
	c.changing.Lock()
	defer c.changing.Unlock()
	_, _, err := c.now(ctx)
	return err
}

// now is the household as it is, and the text of its file. What somebody wrote into the
// file meanwhile is taken in first: it would be at the next start.
func (c *changer) now(ctx context.Context) (home.Household, []byte, error) {
	kept, err := c.db.Household(ctx)
	if err != nil || c.file == "" {
		return kept, nil, err
	}
	text, err := os.ReadFile(c.file)
	if err != nil {
		return kept, nil, &home.Error{Op: opChange, Hint: "Put the household file back.", Err: err}
	}
	said, err := ParseHousehold(text)
	if err != nil {
		return kept, nil, atFile(c.file, err)
	}
	if said.Mark() == kept.Mark() {
		return said, text, nil
	}
	if err := c.check(ctx, said); err != nil {
		return kept, nil, err
	}
	return said, text, c.keep(ctx, said)
}

// check refuses what cannot be stored, read or lived with.
func (c *changer) check(ctx context.Context, h home.Household) error {
	if err := h.Valid(); err != nil {
		return &home.Error{Op: opChange, Err: err}
	}
	if _, err := ingest.NewRouter(h); err != nil {
		return err
	}
	if c.fits == nil {
		return nil
	}
	return c.fits(ctx, h)
}

// keep stores h and lets what runs know. A browser that gives up from here on leaves
// nothing half done.
func (c *changer) keep(ctx context.Context, h home.Household, secrets ...store.Secret) error {
	ctx = context.WithoutCancel(ctx)
	if err := c.db.SetHousehold(ctx, h, secrets...); err != nil {
		return err
	}
	if c.live != nil {
		c.live(ctx, h)
	}
	return nil
}

// write puts text in the place of the household file, which is kept beside it as it was.
func (c *changer) write(was, text []byte) error {
	if bytes.Equal(was, text) {
		return nil
	}
	if err := wholeFile(c.file + ".before").Remember(was); err != nil {
		return err
	}
	return wholeFile(c.file).Remember(text)
}
