package fakehouse

import (
	"context"
	"time"

	"weighbeam/home"
)

// Live is what the scale says at Now: as set in Says, or an empty box at rest.
func (h *House) Live(context.Context, string) (home.LiveLoad, error) {
	if h.Says != nil {
		return *h.Says, h.Err
	}
	return home.LiveLoad{Kg: 6.2, At: Now, Rest: home.KnownLoad{Load: []float64{6.2, 6.2004}, From: Now.Add(-6 * time.Second), To: Now}}, h.Err
}

// Loads returns a cat of 4.3 kg that stands for half a minute in the box, whenever
// it is asked for: each visit shows the same trace.
func (h *House) Loads(_ context.Context, _ string, from, to time.Time) ([]home.Reading, error) {
	var out []home.Reading
	start := from.Add(10 * time.Minute) // what a trace begins before its event
	for i, at := 0, from; at.Before(to); i, at = i+1, at.Add(500*time.Millisecond) {
		kg := 6.2 + 0.002*float64(i%3)
		if s := at.Sub(start).Seconds(); s >= 0 && s < 42 {
			kg += 4.3*min(1, (s+1)/3) + 0.04*float64(i%5-2)
		}
		out = append(out, home.Reading{Source: "hall-box", Quantity: home.Load, Time: at, Value: kg})
	}
	return out, h.Err
}

// Calibrations returns those set in Calibrated.
func (h *House) Calibrations(context.Context, string) ([]home.Calibration, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]home.Calibration{}, h.Calibrated...), h.Err
}

// Fit answers with a gain of 1.01 for any points, or with FitErr, and keeps it where
// it is asked to.
func (h *House) Fit(_ context.Context, c home.Calibration, keep bool) (home.Calibration, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.FitErr != nil {
		return c, h.FitErr
	}
	c.At, c.Gain, c.GainSD, c.OffsetKg, c.OffsetSD, c.LinearityKg, c.RepeatabilityKg, c.ToKg = Now, 1.01, 0.0004, -6.262, 0.002, 0.0009, 0.0006, 5
	c.Warnings = []string{"Two loads show no bend: a third, between them, would."}
	if keep {
		h.Calibrated = append(h.Calibrated, c)
	}
	return c, nil
}
