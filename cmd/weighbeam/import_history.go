package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"weighbeam/app"
	"weighbeam/store/mirror/history"
)

// historyFlags say what to take out of a time-series engine.
type historyFlags struct {
	Influx   string `help:"Flux query whose rows are taken from the engine that the settings name under [influx]." placeholder:"QUERY"`
	Source   string `help:"With --influx: the scale that the rows are of, or hand; or @COLUMN, which holds it." placeholder:"ID"`
	Quantity string `help:"With --influx: what they are, as weight; or @COLUMN." default:"weight" placeholder:"QUANTITY"`
	Unit     string `help:"With --influx: UCUM unit of _value, or @COLUMN; without it, that of the quantity (kg)." placeholder:"UNIT"`
	Cat      string `help:"With --influx: the cat that they are of, where it is known, or @COLUMN." placeholder:"ID"`
	DryRun   bool   `help:"With --influx: say what would be taken, and store nothing."`
	JSON     bool   `help:"With --dry-run: a JSON object a line."`
}

func (f historyFlags) mapping() history.Mapping {
	return history.Mapping{Source: f.Source, Quantity: f.Quantity, Unit: f.Unit, Cat: f.Cat}
}

// fromEngine takes a history out of an engine.
func (c importCmd) fromEngine(ctx context.Context, t terminal) error {
	cfg, err := listenCmd{where: c.where}.settings()
	if err != nil {
		return err
	}
	engine, err := cfg.HistoryConfig()
	if err != nil {
		return err
	}
	if c.DryRun {
		return c.survey(ctx, t, cfg, engine)
	}
	db, err := c.open(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	bad := 0
	done, err := app.ImportHistory(ctx, db, engine, c.Influx, c.mapping(), time.Now(), func(_ string, n int, err error) {
		bad++
		tellBad(t, bad, n, err)
	})
	return imported(t, done, err)
}

// tellBad says of the first rows that cannot be used why not.
func tellBad(t terminal, bad, n int, err error) {
	if bad <= shown {
		fmt.Fprintf(t.err, "row %d: %v\n", n, err)
	}
}

// survey says what would be taken.
func (c importCmd) survey(ctx context.Context, t terminal, cfg app.Config, engine history.Config) error {
	h, err := listenCmd{where: c.where}.household(ctx, cfg)
	if err != nil {
		return err
	}
	bad := 0
	all, err := app.SurveyHistory(ctx, h, engine, c.Influx, c.mapping(), time.Now(), func(n int, err error) {
		bad++
		tellBad(t, bad, n, err)
	})
	if err != nil {
		return err
	}
	for _, s := range all {
		if c.JSON {
			if err := json.NewEncoder(t.out).Encode(s); err != nil {
				return err
			}
			continue
		}
		fmt.Fprintln(t.out, s)
	}
	if !c.JSON {
		fmt.Fprintf(t.out, "%d rows could not be used. Nothing is stored: this was a dry run.\n", bad)
	}
	return nil
}
