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
	cats, scales, household := changedSpans(entries)
	if household {
		h, err := r.store.Household(ctx)
		if err != nil {
			return err
		}
		r.house.SetHousehold(h)
		for _, c := range h.Cats { // a cat may be new while its readings are old
			cats[c.ID] = span{}
		}
		for _, s := range h.Scales {
			scales[s.ID] = span{}
		}
	}
	for cat, s := range cats {
		if err := r.sync(ctx, r.house, cat, s); err != nil {
			return err
		}
	}
	for source, s := range scales {
		if err := r.syncScale(ctx, r.house, source, s); err != nil {
			return err
		}
		if s.to.IsZero() { // all of it was looked at before
			continue
		}
		if err := r.syncClock(ctx, r.house, source, s); err != nil {
			return err
		}
	}
	return nil
}

// changedSpans joins the entries of each cat, and of each source, to one range,
// its end outside.
func changedSpans(entries []home.Entry) (cats, sources map[string]span, household bool) {
	cats, sources = map[string]span{}, map[string]span{}
	for _, e := range entries {
		if e.Matter == home.OfHousehold {
			household = true
		}
		if e.Cat != "" {
			join(cats, e.Cat, e)
		}
		if e.Matter == home.OfReading {
			join(sources, e.Source, e)
		}
	}
	return cats, sources, household
}

func join(spans map[string]span, key string, e home.Entry) {
	from, to := e.From, e.To.Add(home.TimeStep)
	if s, ok := spans[key]; ok {
		if s.from.Before(from) {
			from = s.from
		}
		if s.to.After(to) {
			to = s.to
		}
	}
	spans[key] = span{from, to}
}

// sync tells the house all that the store knows of a cat in a range; the zero
// range is everything.
func (r *Runner) sync(ctx context.Context, house *House, cat string, s span) error {
	obs, err := r.observations(ctx, cat, s.from, s.to)
	if err != nil {
		return err
	}
	if s.to.IsZero() {
		s.to = endOfTime
	}
	house.Sync(cat, s.from, s.to, obs)
	return nil
}

// syncScale tells the house when a scale was heard in a range, to the minute.
func (r *Runner) syncScale(ctx context.Context, house *House, source string, s span) error {
	if house.members[source] == nil {
		return nil // a person, or a device that is not described
	}
	if !s.to.IsZero() {
		s.from, s.to = Minute(s.from), Minute(s.to).Add(time.Minute)
	}
	heard, err := r.store.Heard(ctx, source, s.from, s.to)
	if err != nil {
		return err
	}
	obs := make([]detect.Observation, len(heard))
	for i, at := range heard {
		obs[i] = detect.Observation{Heard: at}
	}
	if s.to.IsZero() {
		s.to = endOfTime
	}
	house.Sync(source, s.from, s.to, obs)
	return nil
}

// syncClock tells the house what readings in a range say of the clock of a scale.
func (r *Runner) syncClock(ctx context.Context, house *House, source string, s span) error {
	if house.members[source] == nil {
		return nil
	}
	hours, err := r.store.ClockHours(ctx, source, s.from, s.to)
	if err == nil {
		house.SyncClock(source, hours)
	}
	return err
}

// Minute is the minute that t falls in: finer, the speaking of a scale is not looked at.
func Minute(t time.Time) time.Time { return t.UTC().Truncate(time.Minute) }

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
	visits, err := r.store.VisitsOf(ctx, cat, from, to)
	if err != nil {
		return nil, err
	}
	for i := range visits {
		obs = append(obs, detect.Observation{Visit: &visits[i]})
	}
	care, err := r.care(ctx, cat, from, to)
	return append(obs, care...), err
}

// care is what began from from to before to. What holds then but began before is
// known already.
func (r *Runner) care(ctx context.Context, cat string, from, to time.Time) ([]detect.Observation, error) {
	events, err := r.store.Care(ctx, cat, from, to)
	if err != nil {
		return nil, err
	}
	var obs []detect.Observation
	for i, e := range events {
		if !e.From.Before(from) {
			obs = append(obs, detect.Observation{Care: &events[i]})
		}
	}
	return obs, nil
}
