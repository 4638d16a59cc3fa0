package app

import (
	"context"
	"fmt"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/visit"
	"weighbeam/store"
)

// Bench is where a scale is calibrated: over a store, or over a running program.
type Bench interface {
	// Live is what the scale says now.
	Live(ctx context.Context, source string) (home.LiveLoad, error)
	// Fit is the line through the points of c, and where keep says so the scale is
	// corrected by it from c.From on; the zero time is the beginning of the session.
	// A point without readings is read from the loads recorded in its time.
	Fit(ctx context.Context, c home.Calibration, keep bool) (home.Calibration, error)
}

// StoreBench calibrates over a store.
type StoreBench struct {
	Store *store.DB
	Now   func() time.Time // the clock of the house
}

// measured is the quantity in which a source says loads: a device that sends one
// settled value a stay is calibrated by those.
func (b StoreBench) measured(ctx context.Context, source string) (home.Quantity, error) {
	h, err := b.Store.Household(ctx)
	if err != nil {
		return "", err
	}
	if s, ok := h.Scale(source); ok {
		return s.Measures(), nil
	}
	heard, err := b.Store.Sources(ctx)
	if err != nil {
		return "", err
	}
	for _, s := range heard {
		if s.Source == source {
			return home.Load, nil
		}
	}
	return "", &home.Error{Op: "calibrate", Hint: "Use the id of a scale of the household; the house page lists them.",
		Err: fmt.Errorf("scale %q: %w", source, home.ErrNotFound)}
}

// Live is what the scale says now.
func (b StoreBench) Live(ctx context.Context, source string) (home.LiveLoad, error) {
	q, err := b.measured(ctx, source)
	if err != nil {
		return home.LiveLoad{}, err
	}
	now := b.Now()
	samples, err := b.Store.Readings(ctx, source, q, now.Add(-visit.LookBack), now.Add(time.Second))
	if err != nil {
		return home.LiveLoad{}, err
	}
	return visit.Live(samples, now), nil
}

// Fit is the line through the points of c, kept where keep says so.
func (b StoreBench) Fit(ctx context.Context, c home.Calibration, keep bool) (home.Calibration, error) {
	q, err := b.measured(ctx, c.Source)
	if err != nil {
		return c, err
	}
	points := make([]home.KnownLoad, len(c.Points))
	for i, p := range c.Points {
		if points[i], err = b.read(ctx, c.Source, q, p); err != nil {
			return c, err
		}
	}
	fit, err := visit.Calibrate(points)
	if err != nil {
		return c, err
	}
	fit.Source, fit.By, fit.From, fit.At = c.Source, c.By, c.From.UTC(), b.Now().UTC().Truncate(home.TimeStep)
	if c.From.IsZero() {
		fit.From = fit.At
		if began, _ := fit.Session(); !began.IsZero() {
			fit.From = began
		}
	}
	if err := fit.Valid(); err != nil || !keep {
		return fit, err
	}
	return fit, b.Store.Calibrate(ctx, fit)
}

// read fills in what the scale said in the time of a point.
func (b StoreBench) read(ctx context.Context, source string, q home.Quantity, p home.KnownLoad) (home.KnownLoad, error) {
	if len(p.Load) > 0 {
		return p, nil
	}
	if p.From.IsZero() || p.To.Sub(p.From) < 2*time.Second || p.To.Sub(p.From) > time.Hour {
		return p, home.Hinted("calibrate", "Say what the scale read, or from when to when the mass lay on it.",
			"%g kg has neither a reading nor a span of 2 s to an hour", p.Kg)
	}
	samples, err := b.Store.Readings(ctx, source, q, p.From.Add(-visit.LookBack), p.To.Add(home.TimeStep))
	if err != nil {
		return p, err
	}
	rest, err := visit.Recorded(samples, p.From, p.To)
	rest.Kg, rest.SDKg = p.Kg, p.SDKg
	return rest, err
}

// Loads returns what the scale said from from to before to, uncorrected.
func (b StoreBench) Loads(ctx context.Context, source string, from, to time.Time) ([]home.Reading, error) {
	return b.Store.Readings(ctx, source, home.Load, from, to)
}

// Calibrations returns those made of the scale, oldest first.
func (b StoreBench) Calibrations(ctx context.Context, source string) ([]home.Calibration, error) {
	return b.Store.Calibrations(ctx, source)
}
