package weigh

import (
	"context"
	"slices"
	"time"

	"weighbeam/home"
)

// trimEvery is how often, by the clock of the house, old load is looked for.
const trimEvery = 24 * time.Hour

// trim lets go of load older than Options.Keep: each scale's tracker is brought to
// that day, its state kept as the scale's checkpoint, and the load before it
// removed, in one transaction. The visits stay.
//
// What is gone does not come back, so the clock of the house alone is not believed: as
// many days before today on which something was heard are kept as Keep has. A clock that
// is a year ahead for a day has lived one of them.
func (r *Runner) trim(ctx context.Context, now time.Time) error {
	if r.opt.Keep == 0 || now.Sub(r.trimmed) < trimEvery {
		return nil
	}
	cutoff := now.Add(-r.opt.Keep).UTC().Truncate(24 * time.Hour)
	lived, err := r.store.DayHeard(ctx, now.UTC().Truncate(24*time.Hour), int(r.opt.Keep/(24*time.Hour)))
	if err != nil {
		return err
	}
	if lived.IsZero() { // the house has not lived so many: all of it is kept
		r.trimmed = now
		return nil
	}
	if lived.Before(cutoff) {
		cutoff = lived
	}
	known, err := r.store.Checkpoints(ctx)
	if err != nil {
		return err
	}
	was := map[string]home.Checkpoint{}
	for _, c := range known {
		was[c.Source] = c
	}
	var removed int64
	for _, source := range r.weigher.sources {
		n, err := r.letGo(ctx, source, was[source], cutoff)
		if err != nil {
			return err
		}
		removed += n
	}
	if removed > 0 {
		r.opt.Log.Info("let go of old load", "before", cutoff, "readings", removed)
	}
	r.trimmed = now
	return nil
}

// trimStep is how many readings are let go of together: years that were imported
// take no more memory than days.
const trimStep = 10_000

// letGo removes the load of a source before cutoff, a part in each transaction.
func (r *Runner) letGo(ctx context.Context, source string, c home.Checkpoint, cutoff time.Time) (removed int64, err error) {
	for {
		next, err := r.bring(ctx, source, c, cutoff)
		if err != nil || !next.At.After(c.At) {
			return removed, err
		}
		n, err := r.store.Trim(ctx, next)
		if err != nil {
			return removed, err
		}
		removed += n
		if c = next; !c.At.Before(cutoff) {
			return removed, nil
		}
	}
}

// bring steps the tracker of a source from its checkpoint towards cutoff, at most by
// trimStep readings. Where there is no load in between, the checkpoint stays as it is.
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
	load, err := r.store.FirstReadings(ctx, source, home.Load, c.At, cutoff, r.step)
	if err != nil || len(load) == 0 {
		return c, err
	}
	if len(load) == r.step { // there is more: all of the last moment wait for it
		cutoff = load[len(load)-1].Time
		load = load[:slices.IndexFunc(load, func(l home.Reading) bool { return !l.Time.Before(cutoff) })]
	}
	for _, l := range load {
		if !sc.testing(l.Time, l.Value) { // its visits were kept when they were new
			sc.tracker.Step(l.Time, sc.correct(l.Time, l.Value), func(home.Visit) {})
		}
	}
	state, err := sc.tracker.Snapshot()
	return home.Checkpoint{Source: source, At: cutoff, State: state, Gain: sc.now.Gain, OffsetKg: sc.now.OffsetKg}, err
}
