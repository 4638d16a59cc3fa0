package weigh

import (
	"context"
	"reflect"
	"slices"
	"time"

	"weighbeam/home"
)

// begin makes a weigher that knows what is not in the readings any more: where
// each scale was when its load was let go, and the visits until then.
func (r *Runner) begin(ctx context.Context) (*Weigher, []home.Visit, error) {
	h, err := r.store.Household(ctx)
	if err != nil {
		return nil, nil, err
	}
	namings, err := r.store.Namings(ctx)
	if err != nil {
		return nil, nil, err
	}
	checkpoints, err := r.store.Checkpoints(ctx)
	if err != nil {
		return nil, nil, err
	}
	calibrations, err := r.store.Calibrations(ctx, "")
	if err != nil {
		return nil, nil, err
	}
	w := New(h, namings, calibrations)
	var old []home.Visit
	for _, c := range checkpoints {
		if err := w.Resume(c); err != nil {
			r.opt.Log.Warn("a scale begins afresh", "source", c.Source, "err", err, "hint", home.Hint(err))
		}
		visits, err := r.store.Visits(ctx, c.Source, time.Time{}, c.At)
		if err != nil {
			return nil, nil, err
		}
		old = append(old, visits...)
	}
	slices.SortStableFunc(old, func(a, b home.Visit) int { return a.End.Compare(b.End) })
	return w, old, nil
}

// derivation makes visits from all that is stored.
type derivation struct {
	w      *Weigher
	old    []home.Visit // whose load is gone, by end
	visits map[visitKey]home.Visit
	order  []visitKey
}

func (d *derivation) step(r home.Reading) {
	d.recall(r.Time)
	d.w.Step(r)
	if r.Time.Sub(d.w.released) > 2*Hold { // names are given as they would have been then
		d.put(d.w.Release(r.Time))
	}
}

// recall takes in the old visits that ended before until.
func (d *derivation) recall(until time.Time) {
	for len(d.old) > 0 && d.old[0].End.Before(until) {
		d.w.Recall(d.old[0])
		d.old = d.old[1:]
	}
}

func (d *derivation) put(visits []home.Visit) {
	for _, v := range visits {
		if _, ok := d.visits[keyOf(v)]; !ok {
			d.order = append(d.order, keyOf(v))
		}
		d.visits[keyOf(v)] = v
	}
}

// differ returns what must be written and what removed to get from kept to
// what was derived.
func (d *derivation) differ(kept []home.Visit) (changed, gone []home.Visit) {
	have := make(map[visitKey]home.Visit, len(kept))
	for _, v := range kept {
		have[keyOf(v)] = v
		if _, ok := d.visits[keyOf(v)]; !ok {
			gone = append(gone, v)
		}
	}
	for _, k := range d.order {
		if old, ok := have[k]; !ok || !reflect.DeepEqual(normal(d.visits[k]), normal(old)) {
			changed = append(changed, d.visits[k])
		}
	}
	return changed, gone
}

// normal is v as the store would give it back.
func normal(v home.Visit) home.Visit {
	v.Start, v.End = v.Start.UTC().Truncate(home.TimeStep), v.End.UTC().Truncate(home.TimeStep)
	if len(v.Reasons) == 0 {
		v.Reasons = nil
	}
	if len(v.Shares) == 0 {
		v.Shares = nil
	}
	return v
}
