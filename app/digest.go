package app

import (
	"context"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// digester makes the digest of the day of each channel that has a digest hour.
// How far it has come is kept with the digest, in one transaction: a restart, a
// change to or from summer time and a clock set back a little bring no second one.
type digester struct{ app *App }

// digestLead is how long before its hour a digest is made, so that what falls on
// that hour goes with it.
const digestLead = time.Minute

// digestAhead is how far the last digest may lie in the future before the clock is
// taken to have been wrong when it was made.
const digestAhead = 48 * time.Hour

// run looks at the clock of the house from time to time until ctx ends.
func (g *digester) run(ctx context.Context) {
	failing := false
	for ctx.Err() == nil {
		err := g.round(ctx)
		if err != nil && !failing && ctx.Err() == nil {
			g.app.opt.Log.Error("the digest waits", "err", err, "hint", home.Hint(err))
		}
		failing = err != nil
		pause(ctx, g.app.idle()/2)
	}
}

// round makes the digests that are due, at most one a channel.
func (g *digester) round(ctx context.Context) error {
	now := g.app.opt.Now().UTC().Truncate(home.TimeStep)
	for _, c := range g.app.policy().Channels {
		if !c.Digest.On {
			continue
		}
		if err := g.make(ctx, c, now); err != nil {
			return err
		}
	}
	return nil
}

// make makes the digest of one channel if its hour has come. After a time in
// which the program was down there is one, not one for each day.
func (g *digester) make(ctx context.Context, c notify.Channel, now time.Time) error {
	name := "digest/" + c.Name
	last, err := g.app.store.Cursor(ctx, name)
	if err != nil {
		return err
	}
	if last.Tick.IsZero() || last.Tick.After(now.Add(digestAhead)) { // the first one comes at the next hour
		return g.app.store.Decide(ctx, home.Decision{Cursor: home.Cursor{Name: name, Tick: now}})
	}
	at := c.Digest.Next(last.Tick)
	if at.After(now.Add(digestLead)) {
		return nil
	}
	for next := c.Digest.Next(at); !next.After(now.Add(digestLead)); next = c.Digest.Next(at) {
		at = next
	}
	day, err := g.day(ctx, last.Tick)
	if err != nil {
		return err
	}
	n := g.app.policy().Daily(c, day, at, now)
	d := home.Decision{Cursor: home.Cursor{Name: name, Tick: at.UTC()}, Notices: []home.Notice{n}}
	if err := g.app.store.Decide(ctx, d); err != nil {
		return err
	}
	g.app.told().sender.Wake()
	return nil
}

// day gathers what a digest tells of.
func (g *digester) day(ctx context.Context, since time.Time) (notify.Day, error) {
	d := notify.Day{Since: since, Checks: map[string]time.Time{}, Exams: map[string]time.Time{}, Troubles: g.app.told().sender.Health().Problems()}
	var err error
	if d.Findings, err = g.app.store.Findings(ctx, false, since); err != nil {
		return d, err
	}
	if d.Sources, err = g.app.store.Sources(ctx); err != nil {
		return d, err
	}
	for _, c := range g.app.house.Load().Cats {
		d.Outlooks = append(d.Outlooks, g.app.watcher.Outlook(c.ID))
		checks, err := g.app.store.Checks(ctx, c.ID, time.Time{}, time.Time{})
		if err != nil {
			return d, err
		}
		if len(checks) > 0 {
			d.Checks[c.ID] = checks[0].Time
		}
		care, err := g.app.store.Care(ctx, c.ID, time.Time{}, g.app.opt.Now()) // a visit that is only planned was no visit yet
		if err != nil {
			return d, err
		}
		for _, e := range care { // oldest first
			if e.Kind == home.VetVisit {
				d.Exams[c.ID] = e.From
			}
		}
	}
	return d, nil
}
