package dashboards

import (
	"context"
	"fmt"
	"math"
	"net/http"
	"slices"
	"time"

	"weighbeam/home"
)

// Bench is where a scale is looked at closely, and calibrated.
type Bench interface {
	// Live is what the scale says now.
	Live(ctx context.Context, source string) (home.LiveLoad, error)
	// Loads returns what the scale said in [from, to), in time order, uncorrected.
	Loads(ctx context.Context, source string, from, to time.Time) ([]home.Reading, error)
	// Calibrations returns those made of the scale, oldest first.
	Calibrations(ctx context.Context, source string) ([]home.Calibration, error)
	// Fit is the line through the points of c; with keep, loads are corrected by it from
	// c.From on, the beginning of the session where that is the zero time. A point without readings
	// is read from what the scale said in its time.
	Fit(ctx context.Context, c home.Calibration, keep bool) (home.Calibration, error)
}

// driftAt is the body mass at which the difference of two calibrations is told, kg:
// a middling cat's.
const driftAt = 4.0

// bench gathers what a scale says now and how true it was found to be.
func (p *pages) bench(r *http.Request, id string, visits []home.Visit) (*benchView, error) {
	live, err := p.opts.Bench.Live(r.Context(), id)
	if err != nil {
		return nil, err
	}
	v := &benchView{Moving: live.Moving, Zero: p.zeroDrift(visits)}
	if !live.At.IsZero() {
		v.Now = number(live.Kg, 3) + " kg"
	}
	all, err := p.opts.Bench.Calibrations(r.Context(), id)
	if err != nil {
		return nil, err
	}
	for i, c := range all {
		row := calibrationRow{At: c.At, Verdict: c.Verdict(), By: c.By, Gain: number(c.Gain, 4), Since: "from " + p.say.clock(c.From)}
		if c.From.Equal(home.Always) {
			row.Since = "for all loads"
		}
		if i > 0 {
			row.Drift = driftWords(all[i-1].DriftKg(c, driftAt))
		}
		v.Calibrations = append(v.Calibrations, row)
	}
	slices.Reverse(v.Calibrations)
	return v, nil
}

// driftWords says how much a cat weighs more by the later of two calibrations.
func driftWords(diff, sd float64) string {
	if math.Abs(diff) < 2*sd {
		return fmt.Sprintf("no change: %s g, less than can be told", signed(diff*1000, 0))
	}
	return fmt.Sprintf("%s ± %s g of %.0f kg", signed(diff*1000, 0), number(2*sd*1000, 0), driftAt)
}

// zeroDrift says how far the empty scale moves by itself, by the days on which it was
// seen to: the middle one, and the one on which it moved most. A scale weighs by
// difference, so that this matters only where it is large within a visit.
func (p *pages) zeroDrift(visits []home.Visit) string {
	byDay := map[string]float64{}
	for _, v := range visits {
		if v.CreptG != 0 {
			byDay[p.say.date(v.Start)] += v.CreptG
		}
	}
	var moved []float64
	for _, g := range byDay {
		moved = append(moved, math.Abs(g))
	}
	if len(moved) < 2 {
		return ""
	}
	return fmt.Sprintf("%s g on a middling day, %s g at most (%d days)", number(middle(moved), 0), number(slices.Max(moved), 0), len(moved))
}
