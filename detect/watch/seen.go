package watch

import (
	"cmp"
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// Weighings are those of a cat that were looked at, from from to before to, as the
// store gives them but without asking it. A zero time is no bound. ok is false where
// the runner has not caught up, or does not watch the cat.
func (r *Runner) Weighings(cat string, from, to time.Time) (all []home.Weighing, ok bool) {
	seen, ok := r.seen(cat, from, to)
	for _, o := range seen {
		if o.Weighing != nil {
			all = append(all, *o.Weighing)
		}
	}
	slices.SortStableFunc(all, func(a, b home.Weighing) int {
		return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Source, b.Source))
	})
	return all, ok
}

// VisitsOf are the visits that carry the name of a cat, by start, as Weighings.
func (r *Runner) VisitsOf(cat string, from, to time.Time) (all []home.Visit, ok bool) {
	seen, ok := r.seen(cat, from, to)
	for _, o := range seen {
		if o.Visit != nil {
			all = append(all, *o.Visit)
		}
	}
	slices.SortStableFunc(all, func(a, b home.Visit) int {
		return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Source, b.Source))
	})
	return all, ok
}

// seen is a copy of what was seen of a cat in a range.
func (r *Runner) seen(cat string, from, to time.Time) ([]detect.Observation, bool) {
	if !r.CaughtUp() {
		return nil, false
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	m := r.house.members[cat]
	if m == nil || m.left || m.seen.scale {
		return nil, false
	}
	lo, hi := m.seen.from(from), m.seen.len()
	if !to.IsZero() {
		hi = max(lo, m.seen.from(to))
	}
	return m.seen.between(lo, hi), true
}
