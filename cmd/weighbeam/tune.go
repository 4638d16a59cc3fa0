package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"text/tabwriter"
	"time"

	"weighbeam/app/carry"
	"weighbeam/app/replay"
	"weighbeam/detect"
	"weighbeam/home"
)

type tuneCmd struct {
	Household string    `help:"Household file; without it, the cats and scales that the readings name." type:"existingfile" placeholder:"FILE"`
	Budgets   []float64 `help:"False findings a cat-year to try." default:"0.02,0.05,0.1,0.2,0.5,1"`
	JSON      bool      `help:"One JSON object a budget and cat, a line each."`
	History   []string  `help:"Readings CSV; may be given several times." type:"existingfile" required:"" placeholder:"FILE"`
}

// tuned is what one budget gives of one cat's own past.
type tuned struct {
	Budget float64     `json:"false_findings_per_cat_year"`
	Cat    string      `json:"cat"`
	Years  float64     `json:"years"`
	Told   []tunedTurn `json:"told"`
}

type tunedTurn struct {
	Sign   home.Sign `json:"sign"`
	Raised time.Time `json:"raised"`
	Closed time.Time `json:"closed,omitzero"`
}

// learned are the signs that the budget moves. Published lines and what people see
// do not depend on it.
var learned = []home.Sign{home.WeightFalling, home.WeightRising, home.BreathingRising}

func (c tuneCmd) Run(ctx context.Context, t terminal) error {
	for _, b := range c.Budgets {
		if !(b > 0 && b <= 10) {
			return home.Hinted("tune", "Give 0.02 to 2 false findings a cat-year.", "a budget of %g", b)
		}
	}
	bar := progress(t.err, "replaying", c.History, 2)
	history := carry.History{Read: func(n int) { _ = bar.Add(n) }} // a bar that cannot be drawn is no error
	h, err := replayCmd{Household: c.Household, Files: c.History}.household(ctx, &history)
	if err != nil {
		return err
	}
	var runs []*replay.Run
	for _, b := range c.Budgets {
		runs = append(runs, replay.New(h, nil, detect.Options{FalsePerCatYear: b}))
	}
	var first, last time.Time
	err = history.Each(c.History, func(r home.Reading) error {
		if first.IsZero() {
			first = r.Time
		}
		last = r.Time
		for _, p := range runs {
			p.Step(r)
		}
		return ctx.Err()
	})
	_ = bar.Finish()
	if err != nil {
		return err
	}
	years := last.Sub(first).Hours() / 24 / 365.25
	var all []tuned
	for i, p := range runs {
		all = append(all, c.read(h, c.Budgets[i], years, p.End())...)
	}
	if c.JSON {
		enc := json.NewEncoder(t.out)
		for _, line := range all {
			if err := enc.Encode(line); err != nil {
				return err
			}
		}
		return nil
	}
	return tellTuned(t.out, h, all)
}

// read gathers what one replay found of each cat.
func (c tuneCmd) read(h home.Household, budget, years float64, events []replay.Event) []tuned {
	of := map[string]*tuned{}
	var all []*tuned
	for _, cat := range h.Cats {
		of[cat.ID] = &tuned{Budget: budget, Cat: cat.ID, Years: years, Told: []tunedTurn{}}
		all = append(all, of[cat.ID])
	}
	for _, e := range events {
		turn, ok := e.Transition()
		who := of[turn.Finding.Cat]
		if !ok || who == nil || !slices.Contains(learned, turn.Finding.Sign) {
			continue
		}
		switch turn.Turn {
		case home.Raised:
			who.Told = append(who.Told, tunedTurn{Sign: turn.Finding.Sign, Raised: turn.At})
		case home.Closed:
			for i := range slices.Backward(who.Told) {
				if who.Told[i].Sign == turn.Finding.Sign && who.Told[i].Closed.IsZero() {
					who.Told[i].Closed = turn.At
					break
				}
			}
		}
	}
	out := make([]tuned, len(all))
	for i, u := range all {
		out[i] = *u
	}
	return out
}

func tellTuned(w io.Writer, h home.Household, all []tuned) error {
	tab := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tab, "cat\tbudget\ttold\twhat and when")
	for _, cat := range h.Cats {
		for _, u := range all {
			if u.Cat != cat.ID {
				continue
			}
			what := ""
			for i, s := range u.Told {
				if i > 0 {
					what += "; "
				}
				what += fmt.Sprintf("%s %s", s.Sign, s.Raised.Format(time.DateOnly))
				if !s.Closed.IsZero() {
					what += " to " + s.Closed.Format(time.DateOnly)
				}
			}
			fmt.Fprintf(tab, "%s\t%g\t%d\t%s\n", cat.Name, u.Budget, len(u.Told), what)
		}
	}
	if err := tab.Flush(); err != nil {
		return err
	}
	years := 0.0
	if len(all) > 0 {
		years = all[0].Years
	}
	_, err := fmt.Fprintf(w, "%.1f years of %d cats. A larger budget tells a change some days earlier and is wrong more often: false_findings_per_cat_year in the settings.\n%s\n",
		years, len(h.Cats), home.Caution)
	return err
}
