package weigh

import (
	"context"
	"time"

	"weighbeam/home"
)

// trimEvery is how often, by the clock of the house, old load is looked for.
const trimEvery = 24 * time.Hour

// trim lets go of load older than Options.Keep: each scale's tracker is brought to
// that day, its state kept as the scale's checkpoint, and the load before it
// removed, in one transaction. The visits stay.
func (r *Runner) trim(ctx context.Context, now time.Time) error {
	if r.opt.Keep == 0 || now.Sub(r.trimmed) < trimEvery {
		return nil
	}
	cutoff := now.Add(-r.opt.Keep).UTC().Truncate(24 * time.Hour)
	known, err := r.store.Checkpoints(ctx)
	if err != nil {
		return err
	}
	was := map[string]home.Checkpoint{}
	for _, c := range known {
		was[c.Source] = c
	}
	var next []home.Checkpoint
	for _, source := range r.weigher.sources() {
		c, err := r.bring(ctx, source, was[source], cutoff)
		if err != nil {
			return err
		}
		if c.At.After(was[source].At) {
			next = append(next, c)
		}
	}
	if len(next) > 0 {
		removed, err := r.store.Trim(ctx, next)
		if err != nil {
			return err
		}
		r.opt.Log.Info("let go of old load", "before", cutoff, "readings", removed)
	}
	r.trimmed = now
	return nil
}

// bring steps the tracker of a source from its checkpoint to cutoff. Where there
// is no load in between, the checkpoint stays as it is.
func (r *Runner) bring(ctx context.Context, source string, c home.Checkpoint, cutoff time.Time) (home.Checkpoint, error) {
	kind := home.Floor
	if s, ok := r.weigher.house.Scale(source); ok {
		kind = s.Kind
	}
	sc := newScale(kind, r.weigher.truths[source])
	if c.State != nil {
		if err := sc.resume(c); err != nil {
			r.opt.Log.Warn("a scale begins afresh", "source", source, "err", err, "hint", home.Hint(err))
		}
	}
	load, err := r.store.Readings(ctx, source, home.Load, c.At, cutoff)
	if err != nil || len(load) == 0 {
		return c, err
	}
	for _, l := range load {
		if !sc.testing(l.Time, l.Value) { // its visits were kept when they were new
			sc.tracker.Step(l.Time, sc.correct(l.Time, l.Value), func(home.Visit) {})
		}
	}
	state, err := sc.tracker.Snapshot()
	return home.Checkpoint{Source: source, At: cutoff, State: state, Gain: sc.now.Gain, OffsetKg: sc.now.OffsetKg}, err
}
