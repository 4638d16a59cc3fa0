package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/mattn/go-isatty"

	"weighbeam/app"
	"weighbeam/dashboards"
	"weighbeam/home"
)

type sheetCmd struct {
	where
	Cat    string    `arg:"" help:"Id of the cat."`
	From   time.Time `help:"First day of what it covers; without it, a year before the last." format:"2006-01-02" placeholder:"DATE"`
	To     time.Time `help:"Last day; without it, today." format:"2006-01-02" placeholder:"DATE"`
	Format string    `help:"pdf, html, csv for the readings behind it, or fhir for the practice's own program." enum:"pdf,html,csv,fhir" default:"pdf"`
	Paper  string    `help:"a4 or letter." enum:"a4,letter" default:"a4"`
	Out    string    `help:"File to write; without it, CAT-sheet-DATE.FORMAT, or - for standard output." type:"path" placeholder:"FILE"`
}

func (c sheetCmd) Run(ctx context.Context, t terminal) error {
	cfg, err := c.settings()
	if err != nil {
		return err
	}
	if !c.From.IsZero() && !c.To.IsZero() && c.To.Before(c.From) {
		return home.Hinted("write the sheet", "Give the earlier day with --from.", "it would end before it begins")
	}
	db, err := c.peek(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	var content bytes.Buffer
	house := t.house
	house.Version = version
	err = app.WriteSheet(ctx, db, cfg, house, &content, dashboards.SheetRequest{
		Cat: c.Cat, From: c.From, To: c.To, Form: dashboards.SheetForm(c.Format), Paper: c.Paper})
	if err != nil {
		return err
	}
	return c.keep(t, content.Bytes())
}

// settings are those that say how the sheet looks: units, zone, how willing the
// detectors are.
func (c sheetCmd) settings() (app.Config, error) {
	if c.Config == "" {
		return app.ParseConfig(nil)
	}
	return app.ReadConfig(c.Config)
}

func (c sheetCmd) keep(t terminal, content []byte) error {
	if filepath.Base(c.Out) == "-" {
		if f, ok := t.out.(*os.File); ok && c.Format == "pdf" && isatty.IsTerminal(f.Fd()) {
			return home.Hinted("write the sheet", "Give a file with --out.", "a PDF is nothing for a terminal")
		}
		_, err := t.out.Write(content)
		return err
	}
	path := c.Out
	if path == "" {
		day := time.Now()
		if t.house.Now != nil {
			day = t.house.Now()
		}
		path = fmt.Sprintf("%s-sheet-%s.%s", c.Cat, day.Format(time.DateOnly), dashboards.SheetForm(c.Format).Ending())
	}
	if err := os.WriteFile(path, content, 0o600); err != nil {
		return err
	}
	fmt.Fprintf(t.out, "Wrote %s.\n%s\n", path, home.Caution)
	return nil
}
