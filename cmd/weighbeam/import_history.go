package main

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"weighbeam/app"
	"weighbeam/app/carry"
	"weighbeam/home"
	"weighbeam/store/mirror/history"
)

// historyFlags say what to take out of a time-series engine.
type historyFlags struct {
	Influx   string `help:"Flux query whose rows are taken from the engine that the settings name under [influx]." placeholder:"QUERY"`
	Source   string `help:"With --influx: the scale that the rows are of, or hand; or @COLUMN, which holds it." placeholder:"ID"`
	Quantity string `help:"With --influx: what they are, as weight; or @COLUMN." default:"weight" placeholder:"QUANTITY"`
	Unit     string `help:"With --influx: UCUM unit of _value, or @COLUMN; without it, that of the quantity (kg)." placeholder:"UNIT"`
	Cat      string `help:"With --influx: the cat that they are of, where it is known, or @COLUMN." placeholder:"ID"`
	DryRun   bool   `help:"Say what would be taken, and store nothing."`
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
	db, err := c.alone(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	bad := 0
	done, err := carry.ImportHistory(ctx, db, lives(cfg, db), engine, c.Influx, c.mapping(), time.Now(), func(_ string, n int, err error) {
		bad++
		tellBad(t, bad, n, err)
	})
	return imported(t, done, err)
}

// forFiles refuses flags that mean nothing for files: each row says it itself.
func (f historyFlags) forFiles() error {
	for name, given := range map[string]bool{"--source": f.Source != "", "--quantity": f.Quantity != "weight", "--unit": f.Unit != "", "--cat": f.Cat != ""} {
		if given {
			return home.Hinted("import", "Write it into that column of the file.", "%s goes with --influx only", name)
		}
	}
	return nil
}

// tellBad says of the first rows that cannot be used why not.
func tellBad(t terminal, bad, n int, err error) {
	if bad <= shown {
		fmt.Fprintf(t.err, "row %d: %v\n", n, err)
	}
}

// survey says what would be taken, out of an engine or of files.
func (c importCmd) survey(ctx context.Context, t terminal) error {
	cfg, err := listenCmd{where: c.where}.settings()
	if err != nil {
		return err
	}
	h, err := listenCmd{where: c.where}.household(ctx, cfg)
	if err != nil {
		return err
	}
	bad := 0
	var all []carry.ImportSeries
	if c.Influx == "" {
		all, err = carry.SurveyFiles(ctx, h, c.Files, time.Now(), c.toldOf(t, &bad))
	} else {
		all, err = c.surveyEngine(ctx, t, cfg, h, &bad)
	}
	if err != nil && len(all) == 0 {
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
	return err // of files that could not be read
}

func (c importCmd) surveyEngine(ctx context.Context, t terminal, cfg app.Config, h home.Household, bad *int) ([]carry.ImportSeries, error) {
	engine, err := cfg.HistoryConfig()
	if err != nil {
		return nil, err
	}
	return carry.SurveyHistory(ctx, h, engine, c.Influx, c.mapping(), time.Now(), func(n int, err error) {
		*bad++
		tellBad(t, *bad, n, err)
	})
}
