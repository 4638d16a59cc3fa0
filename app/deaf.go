package app

import (
	"context"
	"time"

	"weighbeam/notify"
)

// deafWatch tells people that the store takes nothing any more. An ordinary notice would
// have to be written there first.
type deafWatch struct {
	app  *App
	next time.Time // people are told at the earliest then
}

const (
	deafFor   = time.Hour        // a full disk may be emptied, a lock let go; a choice of this program
	deafAgain = 24 * time.Hour   // people are told once more while it lasts
	deafRetry = 10 * time.Minute // where no channel took it
	deafLook  = 5 * time.Second
)

// run looks from time to time until ctx ends.
func (d *deafWatch) run(ctx context.Context) {
	for ctx.Err() == nil {
		d.round(ctx, d.app.opt.Now())
		pause(ctx, deafLook)
	}
}

func (d *deafWatch) round(ctx context.Context, now time.Time) {
	why, since := d.app.deaf(now)
	if !d.due(why, since, now) {
		return
	}
	d.next = now.Add(deafRetry)
	if took := d.app.told().sender.Alarm(ctx, notify.Deaf(why, now)); len(took) > 0 {
		d.next = now.Add(deafAgain)
	}
}

func (d *deafWatch) due(why string, since, now time.Time) bool {
	return why != "" && now.Sub(since) >= deafFor && !now.Before(d.next)
}

// deaf is why the store takes nothing, and since when; damage does not pass, so that it
// is as if it were of long ago.
func (a *App) deaf(now time.Time) (why string, since time.Time) {
	if damage := a.store.Damage(); damage != nil {
		return storeStage(nil, damage).Problem, now.Add(-deafFor)
	}
	if h := a.appender.Health(); h.Failing != "" {
		return a.ingestStage().Problem, h.Since
	}
	return "", time.Time{}
}
