package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"weighbeam/app"
	"weighbeam/home"
)

type calibrateCmd struct {
	where
	Source string `arg:"" help:"The scale, by its id."`
	Points string `help:"CSV of known loads instead of asking: mass and reading, or mass, from and to of recorded loads; sd as well where known. Masses and readings in kg." type:"existingfile" placeholder:"FILE"`
	Since  string `help:"From when on loads are corrected: now, always, a date or an RFC 3339 time. Without it, from the beginning of the calibration." placeholder:"WHEN"`
	By     string `help:"Who does it." placeholder:"NAME"`
	Try    bool   `help:"Only say how good the scale is; correct nothing."`
	URL    string `help:"Pages of the running program; without it, those that the settings name." placeholder:"URL"`
	JSON   bool   `help:"The outcome as one JSON object."`

	TokenFile string `help:"File with the token of a device that may send for the scale, where the program asks for one." type:"existingfile" placeholder:"FILE"`
}

// Run asks for one known mass after the other, or takes them from a file.
func (c calibrateCmd) Run(ctx context.Context, t terminal) error {
	since, err := parseSince(c.Since)
	if err != nil {
		return err
	}
	bench, done, err := c.bench(ctx)
	if err != nil {
		return err
	}
	defer done()
	ask := home.Calibration{Source: c.Source, From: since, By: c.By}
	if c.Points != "" {
		ask.Points, err = readPoints(c.Points)
	} else {
		ask.Points, err = c.session(bench, t).run(ctx)
	}
	if err != nil {
		return err
	}
	fit, err := bench.Fit(ctx, ask, !c.Try)
	if err != nil {
		return err
	}
	if c.JSON {
		return json.NewEncoder(t.out).Encode(struct {
			Calibration home.Calibration `json:"calibration"`
			Verdict     string           `json:"verdict"`
			Kept        bool             `json:"kept"`
		}{fit, fit.Verdict(), !c.Try})
	}
	return c.tell(t.out, fit)
}

// bench is the running program, or the store where none runs.
func (c calibrateCmd) bench(ctx context.Context) (app.Bench, func(), error) {
	url := c.URL
	if url == "" && c.Data == "" {
		cfg, err := listenCmd{where: c.where}.settings()
		if err != nil {
			return nil, nil, err
		}
		url = "http://" + cfg.Listen.String()
	}
	token, err := tokenOf(c.TokenFile)
	if err != nil {
		return nil, nil, err
	}
	if b := (app.HTTPBench{URL: strings.TrimSuffix(url, "/"), Token: token}); url != "" && (c.URL != "" || b.Answers(ctx)) {
		return b, func() {}, nil
	}
	if c.Points == "" {
		return nil, nil, home.Hinted("calibrate", "Start weighbeam serve, which hears the scale, or give known loads with --points.", "weighbeam does not run at %s", url)
	}
	db, err := c.open(ctx)
	if err != nil {
		return nil, nil, err
	}
	return app.StoreBench{Store: db, Now: time.Now}, func() { db.Close() }, nil
}

func (c calibrateCmd) session(b app.Bench, t terminal) *calibrateSession {
	out := t.out
	if c.JSON {
		out = t.err // the outcome stands alone on standard output
	}
	return &calibrateSession{source: c.Source, bench: b, out: out, lines: bufio.NewScanner(os.Stdin), every: 500 * time.Millisecond, patience: 2 * time.Minute}
}

func parseSince(text string) (time.Time, error) {
	switch text {
	case "", "now":
		return time.Time{}, nil
	case "always":
		return home.Always, nil
	}
	if day, err := time.ParseInLocation(time.DateOnly, text, time.Local); err == nil {
		return day, nil
	}
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return at, home.Hinted("calibrate", "Write now, always, 2025-03-31 or 2025-03-31T08:00:00Z.", "--since %q is no time", text)
	}
	return at, nil
}

// tell says how good the scale is, and what was done about it.
func (c calibrateCmd) tell(w io.Writer, fit home.Calibration) error {
	var b strings.Builder
	fmt.Fprintf(&b, "\n%s is %s.\n", fit.Source, fit.Verdict())
	fmt.Fprintf(&b, "  gain           %.5f ± %.5f kg a kg of reading\n", fit.Gain, fit.GainSD)
	fmt.Fprintf(&b, "  offset         %.4f ± %.4f kg\n", fit.OffsetKg, fit.OffsetSD)
	fmt.Fprintf(&b, "  off the line   %.1f g at most\n", fit.LinearityKg*1000)
	fmt.Fprintf(&b, "  repeatability  %.1f g\n", fit.RepeatabilityKg*1000)
	for _, warning := range fit.Warnings {
		fmt.Fprintf(&b, "  %s\n", warning)
	}
	switch {
	case c.Try:
		b.WriteString("Nothing is corrected: this was a try.\n")
	case fit.From.Equal(home.Always):
		b.WriteString("Every load so far and from now on is corrected by it; weighings and trends are made again.\n")
	default:
		fmt.Fprintf(&b, "Loads from %s on are corrected by it.\n", fit.From.Local().Format(time.DateTime))
	}
	_, err := io.WriteString(w, b.String())
	return err
}
