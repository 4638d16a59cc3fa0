package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"weighbeam/app"
)

type verifyCmd struct {
	Config string `help:"Settings file." type:"existingfile" placeholder:"FILE"`
	JSON   bool   `help:"Print the verdicts as JSON."`
}

// Run looks at everything that the settings name. It fails where something is
// wrong; what is only worth a look is no failure.
func (c verifyCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := app.ParseConfig(nil)
	if c.Config != "" {
		cfg, err = app.ReadConfig(c.Config)
	}
	if err != nil {
		return err
	}
	verdicts := cfg.Verify(ctx, time.Now())
	wrong := 0
	for _, v := range verdicts {
		if v.State == app.Wrong {
			wrong++
		}
	}
	if c.JSON {
		enc := json.NewEncoder(t.out)
		enc.SetIndent("", "  ")
		if err := enc.Encode(map[string]any{"well": wrong == 0, "verdicts": verdicts}); err != nil {
			return err
		}
	} else {
		tell(t, verdicts)
	}
	if wrong > 0 {
		return fmt.Errorf("%d of %d parts are wrong", wrong, len(verdicts))
	}
	return nil
}

func tell(t terminal, verdicts []app.Verdict) {
	for _, v := range verdicts {
		fmt.Fprintf(t.out, "%-5s  %s: %s\n", v.State, v.Part, v.Text)
		if v.Do != "" {
			fmt.Fprintf(t.out, "       %s\n", v.Do)
		}
	}
}
