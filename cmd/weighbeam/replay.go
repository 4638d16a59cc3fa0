package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"
	"time"

	"weighbeam/app"
	"weighbeam/app/carry"
	"weighbeam/app/replay"
	"weighbeam/detect"
	"weighbeam/home"
	"weighbeam/ingest/payload"
)

type replayCmd struct {
	Household    string   `help:"Household file; without it, the cats and scales that the readings name." type:"existingfile" placeholder:"FILE"`
	Calibrations string   `help:"JSON-lines export that says how true the scales are." type:"existingfile" placeholder:"FILE"`
	JSON         bool     `help:"One JSON object a line."`
	Budget       float64  `help:"False findings a cat-year that are accepted." default:"0.1"`
	Files        []string `arg:"" help:"Readings CSV." type:"existingfile" name:"file"`
}

// shown is how many bad rows are told one by one.
const shown = 20

func (c replayCmd) Run(ctx context.Context, t terminal) error {
	var calibrations []home.Calibration
	var err error
	if c.Calibrations != "" {
		if calibrations, err = carry.ReadCalibrations(c.Calibrations); err != nil {
			return err
		}
	}
	bad := 0
	history := carry.History{Skipped: func(file string, row *payload.RowError) {
		if bad++; bad <= shown {
			fmt.Fprintf(t.err, "%s line %d: %v\n", file, row.Line, row.Err)
		}
	}}
	bar := progress(t.err, "replaying", c.Files, 2) // once to see whether it is in order
	history.Read = func(n int) { _ = bar.Add(n) }   // a bar that cannot be drawn is no error
	h, err := c.household(ctx, &history)
	if err != nil {
		return err
	}
	run := replay.New(h, calibrations, detect.Options{FalsePerCatYear: c.Budget})
	n := 0
	err = history.Each(c.Files, func(r home.Reading) error {
		n++
		run.Step(r)
		return ctx.Err()
	})
	_ = bar.Finish()
	if err != nil {
		return err
	}
	if bad > 0 {
		fmt.Fprintf(t.err, "%d rows could not be used; the other %d were.\n", bad, n)
	}
	if c.JSON {
		return writeLines(t.out, run.End())
	}
	return writeTable(t.out, n, run.End())
}

// household reads the household file, or takes it from the readings.
func (c replayCmd) household(ctx context.Context, history *carry.History) (home.Household, error) {
	if c.Household != "" {
		return app.ReadHousehold(c.Household)
	}
	var g app.Guess
	err := history.Scan(c.Files, func(r home.Reading) error {
		g.Step(r)
		return ctx.Err()
	})
	return g.Household(), err
}

func writeLines(w io.Writer, events []replay.Event) error {
	out := bufio.NewWriter(w)
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	for _, e := range events {
		if err := enc.Encode(e); err != nil {
			return err
		}
	}
	return out.Flush()
}

func writeTable(w io.Writer, n int, events []replay.Event) error {
	visits, unclear, findings := 0, 0, 0
	tab := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, e := range events {
		if v, ok := e.Visit(); ok {
			if v.Event == home.CatVisit {
				visits++
				if v.Cat == "" {
					unclear++
				}
			}
			continue
		}
		t, _ := e.Transition()
		f := t.Finding
		findings++
		if findings == 1 {
			fmt.Fprintln(tab, "when\twho\twhat\thow soon\t")
		}
		fmt.Fprintf(tab, "%s\t%s\t%s %s\t%s\t%s\n", t.At.Format(time.DateOnly), f.Subject(), f.Sign, t.Turn, f.Urgency, said(t))
	}
	if err := tab.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "%d readings, %d visits (%d of no known cat), %d turns of findings.\n%s\n", n, visits, unclear, findings, home.Caution)
	return err
}

func said(t home.Transition) string {
	if t.Turn == home.Closed {
		return t.Finding.Reason
	}
	return t.Finding.Text
}
