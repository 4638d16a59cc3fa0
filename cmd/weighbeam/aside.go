package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
	"weighbeam/store"
)

type asideCmd struct {
	where
	Topic     string `help:"Which topics, as an MQTT filter; or the file that was imported." default:"#"`
	Dismissed bool   `help:"List what was dismissed, in place of what waits."`
	JSON      bool   `help:"One JSON object a line."`
}

// asideJSON is one line of aside --json.
type asideJSON struct {
	Arrived  time.Time `json:"arrived"`
	Way      string    `json:"way"`
	Topic    string    `json:"topic"`
	Payload  []byte    `json:"payload"` // base64
	Reason   string    `json:"reason"`
	Times    int       `json:"times"`
	Retained bool      `json:"retained,omitempty"`
	CanRetry bool      `json:"can_retry"`
	Suggest  []string  `json:"suggest,omitempty"` // payload kinds that would find a number in it
}

func (c asideCmd) Run(ctx context.Context, t terminal) error {
	db, err := c.peek(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	more := db.SetAsidesAfter
	if c.Dismissed {
		more = db.Dismissed
	}
	n, others := 0, 0
	for after := int64(0); ; {
		page, err := more(ctx, after, 32)
		if err != nil {
			return err
		}
		if len(page) == 0 {
			break
		}
		after = page[len(page)-1].ID
		for _, s := range page {
			if !app.Picks(c.Topic, s) {
				others++
				continue
			}
			n++
			if err := c.show(t, s); err != nil {
				return err
			}
		}
	}
	switch {
	case n > 0 || c.JSON:
	case c.Dismissed:
		fmt.Fprintln(t.out, "Nothing was dismissed.")
	case others > 0:
		fmt.Fprintf(t.out, "Nothing waits on %s; on other topics %d do. Without --topic all are listed.\n", app.Printable([]byte(c.Topic)), others)
	default:
		fmt.Fprintln(t.out, "Nothing waits.")
	}
	return nil
}

func (c asideCmd) show(t terminal, s home.SetAside) error {
	suggest := payload.Suggest(s.Payload)
	if s.Way != ingest.WayMQTT && s.Way != ingest.WayBroker {
		suggest = nil // only a topic can be given to a scale
	}
	if c.JSON {
		enc := json.NewEncoder(t.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(asideJSON{s.Arrived, s.Way, s.Topic, s.Payload, s.Reason, s.Times, s.Retained, ingest.CanRetry(s), suggest})
	}
	times := ""
	if s.Times > 1 {
		times = fmt.Sprintf(", %d times", s.Times)
	}
	fmt.Fprintf(t.out, "%s  %s%s\n    %s\n    %s\n", s.Arrived.Local().Format(time.DateTime), app.Printable([]byte(s.Topic)), times,
		app.Printable(s.Payload), app.Printable([]byte(s.Reason)))
	if len(suggest) > 0 {
		fmt.Fprintf(t.out, "    could be read as %s\n", app.Printable([]byte(strings.Join(suggest, ", "))))
	}
	return nil
}

// change is where a claim or a retry of the command line works: on the store of a
// program that does not run.
type change struct {
	where
	Household string `help:"Household file, in place of the one that the settings name." type:"path" placeholder:"FILE"`
}

// alone opens the store, or says where to do the same while weighbeam runs.
func (c change) alone(ctx context.Context) (*store.DB, error) {
	path, err := c.path()
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(path); err != nil {
		return nil, &home.Error{Op: "open store", Hint: "Name the store with --data or the settings with --config.", Err: err}
	}
	db, err := store.Open(ctx, path)
	if store.InUse(err) {
		return nil, home.Hinted("", "Do it on the page \"Set aside\" of the running weighbeam, or stop that first.", "%v", err)
	}
	return db, err
}

// settings are those that are named, with the household file that is read at each
// start.
func (c change) settings() (cfg app.Config, err error) {
	if c.Config != "" {
		cfg, err = app.ReadConfig(c.Config)
	}
	if c.Household != "" {
		cfg.Household = c.Household
	}
	return cfg, err
}

// open is the settings, with the store that they or the flags name.
func (c change) open(ctx context.Context) (cfg app.Config, db *store.DB, err error) {
	if cfg, err = c.settings(); err != nil {
		return cfg, nil, err
	}
	db, err = c.alone(ctx)
	return cfg, db, err
}

type claimCmd struct {
	change
	Topic   string   `arg:"" help:"The topic, as 'weighbeam aside' lists it, or an MQTT filter."`
	Scale   string   `required:"" help:"The scale that speaks there; a new one, if no scale is called so." placeholder:"ID"`
	Kind    string   `help:"Of a new scale: litter-box, feeder, water or floor."`
	Payload string   `help:"How to read it: senml, number, json:PATH, line:FIELD and others; without it, what fits."`
	Unit    string   `help:"UCUM unit of its numbers; without it, kg." placeholder:"UNIT"`
	Sends   string   `help:"load (the whole scale, some times a second) or weight (one settled weight a visit)." placeholder:"QUANTITY"`
	Cats    []string `help:"Who uses a new scale; without it, all." placeholder:"ID"`
	Move    bool     `help:"The scale leaves the topic that it listened to."`
}

func (c claimCmd) Run(ctx context.Context, t terminal) error {
	cfg, db, err := c.open(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	s := home.Scale{ID: c.Scale, Kind: home.Kind(c.Kind), Cats: c.Cats, Topic: c.Topic, Payload: c.Payload, Unit: c.Unit, Sends: home.Quantity(c.Sends)}
	done, err := app.ClaimStopped(ctx, db, cfg, app.Claim{Scale: s, Move: c.Move})
	if err != nil {
		return err
	}
	fmt.Fprintf(t.out, "%s is claimed by %s.\n", app.Printable([]byte(c.Topic)), c.Scale)
	if cfg.Household == "" {
		fmt.Fprintln(t.out, "The store keeps that. Where weighbeam is started with a household file, that file holds instead: claim with --household FILE then.")
	}
	if done.Tried == 0 {
		fmt.Fprintln(t.out, "Nothing has arrived on it that waits.")
		return nil
	}
	tellRetry(t, done)
	return nil
}

type dismissCmd struct {
	where
	Which string `arg:"" help:"The topic, or the file that was imported, as 'weighbeam aside' lists it; or an MQTT filter."`
}

func (c dismissCmd) Run(ctx context.Context, t terminal) error {
	db, err := change{where: c.where}.alone(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	n, err := app.DismissStopped(ctx, db, c.Which)
	if err != nil {
		return err
	}
	if n == 0 {
		return home.Hinted("dismiss", "'weighbeam aside' lists what waits, each with the topic or the file to dismiss it by.", "nothing of %q waits", c.Which)
	}
	fmt.Fprintf(t.out, "%d dismissed. They are kept: 'weighbeam aside --dismissed' lists them.\n", n)
	return nil
}

type retryCmd struct {
	change
	Topic string `help:"Which topics, as an MQTT filter." default:"#"`
}

func (c retryCmd) Run(ctx context.Context, t terminal) error {
	if err := ingest.ValidFilter(c.Topic); err != nil {
		return err
	}
	cfg, db, err := c.open(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	done, err := app.RetryStopped(ctx, db, cfg, c.Topic)
	if err != nil {
		return err
	}
	tellRetry(t, done)
	return nil
}

func tellRetry(t terminal, done home.Retry) {
	fmt.Fprintf(t.out, "%d tried again: %d read, %d still set aside.\n", done.Tried, done.Read, len(done.Left))
	for i, s := range done.Left {
		if i == shown {
			fmt.Fprintln(t.out, "  and others: 'weighbeam aside' lists them")
			return
		}
		fmt.Fprintf(t.out, "  %s: %s\n", app.Printable([]byte(s.Topic)), app.Printable([]byte(s.Reason)))
	}
}
