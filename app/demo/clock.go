package demo

import (
	"context"
	"time"
)

// clock is a clock that began at a time of its own and runs faster.
type clock struct {
	began time.Time // on the machine's clock, monotonic
	from  time.Time
	speed float64
}

func newClock(from time.Time, speed float64) clock { return clock{time.Now(), from, speed} }

// now is the time in the house.
func (c clock) now() time.Time {
	return c.from.Add(time.Duration(float64(time.Since(c.began)) * c.speed))
}

// until waits until the house's clock shows t, or ctx ends.
func (c clock) until(ctx context.Context, t time.Time) error {
	wait := time.Duration(float64(t.Sub(c.now())) / c.speed)
	if wait <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}
