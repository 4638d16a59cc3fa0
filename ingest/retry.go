package ingest

import (
	"context"
	"maps"
	"slices"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// Waiting is where what was set aside is kept.
type Waiting interface {
	// SetAsidesAfter returns what waits with an id above after, in the order of ids.
	SetAsidesAfter(ctx context.Context, after int64, limit int) ([]home.SetAside, error)

	// Came returns when a payload that waits came, each time that it was not read since.
	// It is empty where only the newest of a topic is kept.
	Came(ctx context.Context, id int64) ([]home.Came, error)

	// Settled counts those of ids that were read since they were set aside.
	Settled(ctx context.Context, ids []int64) (int, error)
}

// retryPage is how much of what waits is held at a time: with the longest payloads
// no more than may wait for the committer anyway.
const retryPage = 32

// Again is the delivery of something that was set aside, to be tried again: read
// as of when it arrived, so that what was stored of it then is a duplicate now.
func Again(s home.SetAside) Delivery {
	return Delivery{Way: s.Way, Topic: s.Topic, Payload: s.Payload, Arrived: s.Arrived, Retained: s.Retained, Again: s.ID}
}

// CanRetry reports whether s can be tried again: rows of files are imported again
// instead, what contradicts the store stays contradicted, and of what is too long
// only the beginning is kept.
func CanRetry(s home.SetAside) bool {
	return !s.Cut && slices.Contains([]string{WayMQTT, WayBroker, WayHTTP}, s.Way)
}

// Retry tries again what waits on topics that match filter ("#" for all), the same
// way as it came. What can be read now is settled in the commit of its readings;
// what cannot stays with the reason of now. Everything that was decoded before the
// call, as by an earlier household, is part of what is tried. Run must be running.
func (a *Appender) Retry(ctx context.Context, w Waiting, filter string) (home.Retry, error) {
	a.retrying.Lock()
	defer a.retrying.Unlock()
	if err := a.through(ctx, []Delivery{{Way: WayRetry, Ready: &home.Batch{}}}); err != nil {
		return home.Retry{}, err
	}
	tried := map[int64]bool{}
	err := eachWaiting(ctx, w, filter, func(page []home.SetAside) error {
		var ds []Delivery
		for _, s := range page {
			tried[s.ID] = true
			again, err := eachArrival(ctx, w, s)
			if err != nil {
				return err
			}
			ds = append(ds, again...)
		}
		return a.through(ctx, ds)
	})
	if err != nil {
		return home.Retry{}, err
	}
	out := home.Retry{Tried: len(tried)}
	err = eachWaiting(ctx, w, filter, func(page []home.SetAside) error {
		for _, s := range page {
			if s.Payload = nil; tried[s.ID] {
				out.Left = append(out.Left, s)
			}
		}
		return nil
	})
	if err != nil {
		return out, err
	}
	out.Read, err = w.Settled(ctx, slices.Collect(maps.Keys(tried)))
	return out, err
}

// eachArrival is s to be tried again, once for each time that it came: without a time of
// its own it is another reading each time.
func eachArrival(ctx context.Context, w Waiting, s home.SetAside) ([]Delivery, error) {
	came, err := w.Came(ctx, s.ID)
	if err != nil || len(came) == 0 {
		return []Delivery{Again(s)}, err
	}
	ds := make([]Delivery, len(came))
	for i, c := range came {
		s.Arrived, s.Retained = c.At, c.Retained
		ds[i] = Again(s)
	}
	return ds, nil
}

// eachWaiting calls f with all that can be tried again, a page at a time.
func eachWaiting(ctx context.Context, w Waiting, filter string, f func([]home.SetAside) error) error {
	for after := int64(0); ; {
		page, err := w.SetAsidesAfter(ctx, after, retryPage)
		if err != nil || len(page) == 0 {
			return err
		}
		after = page[len(page)-1].ID
		page = slices.DeleteFunc(page, func(s home.SetAside) bool { return !CanRetry(s) || !Match(filter, s.Topic) })
		if err := f(page); err != nil {
			return err
		}
	}
}

// through hands over deliveries and waits until each is settled.
func (a *Appender) through(ctx context.Context, ds []Delivery) error {
	settled := make(chan error, len(ds)) // filled after the wait is over as well
	for _, d := range ds {
		d.Settle = func(err error) { settled <- err }
		if err := a.Deliver(ctx, d); err != nil {
			return err
		}
	}
	for range ds {
		select {
		case err := <-settled:
			if err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// Foretell reads what waits as the scale s would, without storing anything: the
// readings, and why not where there are none.
func Foretell(w home.SetAside, s home.Scale) ([]home.Reading, error) {
	decode, err := payload.ForScale(s)
	if err != nil {
		return nil, err
	}
	return decode(w.Payload, payload.Arrival{Time: w.Arrived, Retained: w.Retained})
}
