package watch

import (
	"context"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// span is a range of time that changed for one cat.
type span struct{ from, to time.Time }

// take brings the house to what the entries say changed.
func (r *Runner) take(ctx context.Context, entries []home.Entry) error {
	spans, household := changedSpans(entries)
	if household {
		h, err := r.store.Household(ctx)
		if err != nil {
			return err
		}
		r.house.SetCats(h.Cats)
		for _, c := range h.Cats { // a cat may be new while its readings are old
			spans[c.ID] = span{}
		}
	}
	for cat, s := range spans {
		if err := r.sync(ctx, r.house, cat, s.from, s.to); err != nil {
			return err
		}
	}
	return nil
}

// changedSpans joins the entries of each cat to one range, its end outside.
func changedSpans(entries []home.Entry) (spans map[string]span, household bool) {
	spans = map[string]span{}
	for _, e := range entries {
		if e.Matter == home.OfHousehold {
			household = true
		}
		if e.Cat == "" {
			continue
		}
		from, to := e.From, e.To.Add(home.TimeStep)
		if s, ok := spans[e.Cat]; ok {
			if s.from.Before(from) {
				from = s.from
			}
			if s.to.After(to) {
				to = s.to
			}
		}
		spans[e.Cat] = span{from, to}
	}
	return spans, household
}

// sync tells the house all that the store knows of a cat in a range; the zero
// range is everything.
func (r *Runner) sync(ctx context.Context, house *House, cat string, from, to time.Time) error {
	obs, err := r.observations(ctx, cat, from, to)
	if err != nil {
		return err
	}
	if to.IsZero() {
		to = endOfTime
	}
	house.Sync(cat, from, to, obs)
	return nil
}

// endOfTime is after every reading that the store can hold.
var endOfTime = time.Date(9999, 1, 1, 0, 0, 0, 0, time.UTC)

func (r *Runner) observations(ctx context.Context, cat string, from, to time.Time) ([]detect.Observation, error) {
	var obs []detect.Observation
	weighings, err := r.store.Weighings(ctx, cat, from, to)
	if err != nil {
		return nil, err
	}
	for i := range weighings {
		obs = append(obs, detect.Observation{Weighing: &weighings[i]})
	}
	for _, q := range home.Quantities() {
		if q == home.Weight || q == home.Load {
			continue // weighings already, or nobody's yet
		}
		counts, err := r.store.Counts(ctx, cat, q, from, to)
		if err != nil {
			return nil, err
		}
		for i := range counts {
			obs = append(obs, detect.Observation{Count: &counts[i]})
		}
	}
	checks, err := r.store.Checks(ctx, cat, from, to)
	if err != nil {
		return nil, err
	}
	for i := range checks {
		obs = append(obs, detect.Observation{Check: &checks[i]})
	}
	return obs, nil
}
