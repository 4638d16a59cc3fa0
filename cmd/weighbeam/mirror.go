package main

import (
	"context"
	"fmt"

	"weighbeam/app"
)

type mirrorCmd struct {
	Config  string `help:"Settings file with the table [influx]." type:"existingfile" required:"" placeholder:"FILE"`
	Rebuild bool   `help:"Write everything again; what is there already is overwritten, not doubled. Also while weighbeam runs."`
}

func (c mirrorCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := app.ReadConfig(c.Config)
	if err != nil {
		return err
	}
	if c.Rebuild {
		err := app.RebuildMirror(ctx, cfg, func(done, all int64) { fmt.Fprintf(t.err, "%d of %d\n", done, all) })
		if err == nil {
			fmt.Fprintln(t.out, "Everything was written again.")
		}
		return err
	}
	behind, err := app.MirrorBehind(ctx, cfg)
	if err != nil {
		fmt.Fprintf(t.out, "%d journal entries are still to be written.\n", behind)
		return err
	}
	fmt.Fprintf(t.out, "The engine answers. %d journal entries are still to be written.\n", behind)
	return nil
}
