package app

import (
	"cmp"
	"context"
	"fmt"

	"weighbeam/home"
	"weighbeam/store"
)

// tellUndone says what the store knew and the household file, which holds, does not: a
// claim on the command line may not have been written into it.
func (a *App) tellUndone(ctx context.Context) error {
	if a.cfg.Household == "" {
		return nil
	}
	gone, err := UndoneBy(ctx, a.store, a.cfg.Household)
	if err != nil {
		return err
	}
	for _, what := range gone {
		a.opt.Log.Warn("the household file takes back what this house knew", "gone", what, "file", a.cfg.Household,
			"hint", "Write it into the file if it should hold; the file is read at each start.")
	}
	return nil
}

// UndoneBy is what the store knows of cats and scales and a start with that household file
// takes back.
func UndoneBy(ctx context.Context, db *store.DB, file string) ([]string, error) {
	h, err := ReadHousehold(file)
	if err != nil {
		return nil, err
	}
	was, err := db.Household(ctx)
	return undone(was, h), err
}

// undone is what was known of cats and scales, and is not any more.
func undone(was, is home.Household) []string {
	var gone []string
	for _, c := range was.Cats {
		if _, ok := is.Cat(c.ID); !ok {
			gone = append(gone, "cat "+c.ID)
		}
	}
	for _, s := range was.Scales {
		if now, ok := is.Scale(s.ID); !ok || s.Topic != "" && reads(now) != reads(s) {
			gone = append(gone, fmt.Sprintf("scale %s on %s", s.ID, reads(s)))
		}
	}
	return gone
}

// reads says where a scale is heard and how it is understood.
func reads(s home.Scale) string {
	if s.Topic == "" {
		return "no topic"
	}
	return fmt.Sprintf("%s, read as %s in %s", s.Topic, cmp.Or(s.Payload, "senml"), cmp.Or(s.Unit, "kg"))
}
