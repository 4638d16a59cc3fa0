package main

import (
	"context"
	"encoding/json"
	"fmt"
	"text/tabwriter"
	"time"

	"weighbeam/app"
	"weighbeam/home"
	"weighbeam/store"
)

type whyCmd struct {
	where
	JSON    bool   `help:"One JSON object a moment."`
	Finding string `arg:"" optional:"" help:"Id of the finding, or a part of it, as juniper/weight-falling; without it, the findings are listed."`
}

// Run shows what happened around a finding and every decision about whom to tell
// of it, also while weighbeam runs.
func (c whyCmd) Run(ctx context.Context, t terminal) error {
	db, err := c.peek(ctx)
	if err != nil {
		return err
	}
	defer db.Close()
	if c.Finding == "" {
		return c.list(ctx, t, db)
	}
	f, err := app.FindFinding(ctx, db, c.Finding)
	if err != nil {
		return err
	}
	why, err := app.ReadWhy(ctx, db, f)
	if err != nil {
		return err
	}
	if c.JSON {
		enc := json.NewEncoder(t.out)
		for _, m := range why.Moments {
			if err := enc.Encode(m); err != nil {
				return err
			}
		}
		return nil
	}
	return c.tell(t, why)
}

func (c whyCmd) list(ctx context.Context, t terminal, db *store.DB) error {
	all, err := db.Findings(ctx, false, time.Time{})
	if err != nil {
		return err
	}
	if len(all) == 0 {
		fmt.Fprintln(t.out, "Nothing was found yet.")
		return nil
	}
	w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "RAISED\tSTANDS\tFINDING")
	for _, f := range all {
		stands := string(f.Urgency)
		if !f.Open() {
			stands = "closed"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", when(f.Raised), stands, f.ID())
	}
	return w.Flush()
}

func (c whyCmd) tell(t terminal, why app.Why) error {
	fmt.Fprintf(t.out, "%s\n\n", why.Finding.ID())
	w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
	for _, m := range why.Moments {
		fmt.Fprintf(w, "%s\t%s\t%s\n", when(m.At), happened(m), m.Why)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(t.out, "\n%s\n", home.Caution)
	return nil
}

// happened is what a moment was, in a few words.
func happened(m app.Moment) string {
	switch {
	case m.What == "answer" && m.Channel != "":
		return "answer by " + m.Channel
	case m.What != "notice":
		return m.What
	}
	state := map[home.NoticeState]string{home.Waiting: "waits", home.Sent: "sent", home.Withheld: "not sent", home.GivenUp: "given up"}[m.State]
	if m.Due.After(m.At) {
		state += " until " + when(m.Due)
	}
	return fmt.Sprintf("  to %s, %s: %s", m.Channel, m.Turn, state)
}
