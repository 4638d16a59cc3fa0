package dashboards

import (
	"context"
	"fmt"
	"time"

	"weighbeam/home"
)

// habits are what a cat does each day: in the last week, and as a measure beside it in
// the four weeks before. What is not measured in this house is not known.
type habits struct{ Eaten, Litter figure }

const (
	habitLately = 7 * 24 * time.Hour
	habitBefore = 28 * 24 * time.Hour
	habitLeast  = 3 * 24 * time.Hour // fewer days say nothing of a day
)

func (p *pages) habits(ctx context.Context, h home.Household, c home.Cat, now time.Time) (of habits, err error) {
	g := p.gather(ctx, h, c, period{From: now.Add(-habitLately - habitBefore), To: now})
	eaten, err := g.takenReadings(home.Intake, home.Meal)
	if err != nil {
		return of, err
	}
	stays, err := g.stays()
	if err != nil {
		return of, err
	}
	of.Eaten = habit(eaten, now, func(r home.Reading) float64 { return r.Value }, "%.0f g")
	of.Litter = habit(stays, now, func(home.Reading) float64 { return 1 }, "%.1f")
	return of, nil
}

// habit is what all comes to a day, by the days for which there is anything.
func habit(all []home.Reading, now time.Time, value func(home.Reading) float64, format string) figure {
	if len(all) == 0 {
		return figure{}
	}
	var lately, before float64
	turn := now.Add(-habitLately)
	for _, r := range all {
		if r.Time.Before(turn) {
			before += value(r)
		} else {
			lately += value(r)
		}
	}
	first := all[0].Time
	known := min(now.Sub(first), habitLately)
	if known < habitLeast {
		return figure{}
	}
	f := figure{Known: true, Value: fmt.Sprintf(format, lately/days(known)) + " a day"}
	if span := min(turn.Sub(first), habitBefore); span >= habitLately {
		f.Interval = fmt.Sprintf(format, before/days(span)) + " before"
	}
	return f
}

func days(d time.Duration) float64 { return d.Hours() / 24 }
