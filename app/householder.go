package app

import (
	"context"
	"os"

	"weighbeam/home"
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
