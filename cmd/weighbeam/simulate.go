package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/ingest/payload"
	"weighbeam/simulator"
)

type simulateCmd struct {
	Folder  string    `arg:"" help:"Folder to write readings.csv, household.toml and truth.jsonl into; made if missing." type:"path"`
	Seed    uint64    `help:"The same seed gives the same bytes." default:"1"`
	Start   time.Time `help:"First day." format:"2006-01-02" default:"2025-01-06"`
	Days    int       `help:"How many days." default:"240"`
	Cats    int       `help:"How many cats." default:"3"`
	Unwell  int       `help:"How many of them fall ill: the first loses weight, the second breathes faster, and so on in turn." default:"2"`
	Scales  int       `help:"How many litter boxes." default:"2"`
	Load    bool      `help:"Write the raw load of each scale instead of settled values. This is much more."`
	Devices string    `help:"Scales under the boxes, in turn, by name: ${devices}." default:"5hz"`
	Faults  string    `help:"Troubles to add, by name, with commas." default:""`
}

func (s simulateCmd) Run(ctx context.Context, t terminal) error {
	faults, err := simulator.ParseFaults(s.Faults)
	if err != nil {
		return err
	}
	devices, err := simulator.ParseDevices(s.Devices)
	if err != nil {
		return err
	}
	house, err := simulator.New(simulator.Options{Seed: s.Seed, Start: s.Start, Days: s.Days, Cats: s.Cats,
		Unwell: s.Unwell, Scales: s.Scales, Devices: devices, Faults: faults})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.Folder, 0o755); err != nil {
		return &home.Error{Op: "simulate", Hint: "Choose a folder you may write to.", Err: err}
	}
	if err := s.free(); err != nil {
		return err
	}
	readings := house.Settled()
	if s.Load {
		readings = house.Load()
	}
	n, err := s.readings(ctx, readings)
	if err != nil {
		return err
	}
	text, err := app.FormatHousehold(house.Household())
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(s.Folder, "household.toml"), text, 0o644); err != nil {
		return err
	}
	if err := s.truth(house); err != nil {
		return err
	}
	fmt.Fprintf(t.out, "Wrote %d readings of %d days to %s.\n", n, s.Days, s.Folder)
	return nil
}

// free refuses a folder in which a file would be written over: it may be of a real house.
func (s simulateCmd) free() error {
	for _, name := range []string{"readings.csv", "household.toml", "truth.jsonl"} {
		switch _, err := os.Lstat(filepath.Join(s.Folder, name)); {
		case err == nil:
			return home.Hinted("simulate", "Choose another folder, or move it away.", "there is a %s in %s already", name, s.Folder)
		case !errors.Is(err, fs.ErrNotExist):
			return &home.Error{Op: "simulate", Hint: "Choose a folder you may read.", Err: err}
		}
	}
	return nil
}

func (s simulateCmd) readings(ctx context.Context, readings iter.Seq[home.Reading]) (n int, err error) {
	f, err := os.Create(filepath.Join(s.Folder, "readings.csv"))
	if err != nil {
		return 0, err
	}
	defer func() { err = firstError(err, f.Close()) }()
	w := payload.NewCSVWriter(f)
	for r := range readings {
		if err := firstError(ctx.Err(), w.Write(r)); err != nil {
			return n, err
		}
		n++
	}
	return n, w.Flush()
}

func (s simulateCmd) truth(house *simulator.House) (err error) {
	f, err := os.Create(filepath.Join(s.Folder, "truth.jsonl"))
	if err != nil {
		return err
	}
	defer func() { err = firstError(err, f.Close()) }()
	return house.WriteTruth(f)
}

func firstError(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

func deviceNames() string {
	var names []string
	for _, d := range simulator.Devices() {
		names = append(names, d.Name)
	}
	return strings.Join(names, ", ")
}
