package ingest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// keptOf is how much of a payload that is too long to be read is set aside.
const keptOf = 4 << 10

// commit appends batch, one way at a time so that each way's counts are its own,
// and settles it.
func (a *Appender) commit(ctx context.Context, batch []read) {
	a.stats.holds(batch, time.Now()) // how long it takes is real time, whatever the clock of the house
	defer a.stats.holds(nil, time.Time{})
	for _, part := range byWay(batch) {
		done := a.insist(ctx, part)
		a.settle(part[:done], nil)
		a.settle(part[done:], ErrClosed)
	}
}

// byWay parts a batch by way, keeping the order within each.
func byWay(batch []read) [][]read {
	if !slices.ContainsFunc(batch, func(r read) bool { return r.counted() != batch[0].counted() }) {
		return [][]read{batch} // the usual case needs no copy
	}
	var parts [][]read
	for _, r := range batch {
		i := slices.IndexFunc(parts, func(p []read) bool { return p[0].counted() == r.counted() })
		if i < 0 {
			parts, i = append(parts, nil), len(parts)
		}
		parts[i] = append(parts[i], r)
	}
	return parts
}

// insist appends part until the store has taken all of it or ctx ends. It returns how
// many are committed, from the first on.
func (a *Appender) insist(ctx context.Context, part []read) (done int) {
	for pause := time.Duration(0); ; {
		rest := part[done:]
		b, folded := batchOf(rest)
		err := a.append(ctx, rest[0].counted(), b, folded)
		if err == nil {
			return len(part)
		}
		if errors.Is(err, home.ErrUnfit) {
			done += a.single(ctx, rest)
		}
		if done == len(part) {
			return done
		}
		pause = min(max(2*pause, a.opt.Floor), a.opt.Cap)
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return done
		}
	}
}

// append commits b and counts it, both or neither. folded is how many of what
// came in were replaced within the batch by a newer payload of their topic.
func (a *Appender) append(ctx context.Context, way string, b home.Batch, folded int) error {
	start := time.Now()
	b.Stored = a.opt.Now()
	tally, err := a.store.Append(ctx, b)
	if err != nil {
		if ctx.Err() == nil && a.stats.failed(err, a.opt.Now()) {
			a.opt.Log.Error("the store takes nothing: nothing is acknowledged, every message is kept by its sender or broker and tried again",
				"err", err, "hint", home.Hint(err))
		}
		return err
	}
	want := parts(b)
	if tally.Received() != want {
		a.opt.Log.Error("the store lost count", "given", want, "stored", tally.Stored, "duplicate", tally.Duplicate, "set_aside", tally.SetAside)
	}
	tally.SetAside += folded
	if since := a.stats.committed(way, want+folded, tally, a.opt.Now(), time.Since(start)); since > 0 {
		a.opt.Log.Info("the store takes readings again", "after", since.Round(time.Millisecond))
	}
	a.clocks.observe(b.Readings)
	a.opt.Committed()
	return nil
}

// parts is how many things b holds that a tally counts. A home check counts as
// one beside its readings.
func parts(b home.Batch) int {
	n := len(b.Readings) + len(b.SetAside)
	for _, c := range b.Checks {
		n += 1 + len(c.Readings)
	}
	for _, r := range b.Retried {
		if r.Reason != "" {
			n++
		}
	}
	return n
}

// batchOf turns part into what one commit takes in. folded is how many payloads
// are left out because a newer one of their topic replaces them.
func batchOf(part []read) (b home.Batch, folded int) {
	latest := map[string]int{}
	n := 0
	for _, r := range part {
		n += len(r.readings)
	}
	b.Readings = make([]home.Reading, 0, n)
	for _, r := range part {
		if r.Ready != nil {
			b.Refused = hears(b.Refused, len(b.Readings), r.Ready)
			b.Readings = append(b.Readings, r.Ready.Readings...)
			b.Checks = append(b.Checks, r.Ready.Checks...)
			b.SetAside = append(b.SetAside, r.Ready.SetAside...)
			b.Answers = append(b.Answers, r.Ready.Answers...)
			continue
		}
		b.Readings = append(b.Readings, r.readings...)
		if r.Again != 0 {
			b.Retried = append(b.Retried, retried(r.Delivery, r.reason))
		}
		if r.reason == nil || r.Again != 0 {
			continue
		}
		aside := setAside(r.Delivery, r.reason)
		if i, ok := latest[aside.Topic]; ok && aside.Latest {
			b.SetAside[i] = aside
			folded++
			continue
		}
		if aside.Latest {
			latest[aside.Topic] = len(b.SetAside)
		}
		b.SetAside = append(b.SetAside, aside)
	}
	return b, folded
}

// hears is what hears of refused readings where those of ready follow n others: it tells
// ready of its own, by their index there, and was of the others.
func hears(was func(int, string), n int, ready *home.Batch) func(int, string) {
	if ready.Refused == nil {
		return was
	}
	return func(i int, why string) {
		switch {
		case i >= n && i < n+len(ready.Readings):
			ready.Refused(i-n, why)
		case was != nil:
			was(i, why)
		}
	}
}

// setAside is d as it is kept with the reason why it could not be read.
func setAside(d Delivery, reason error) home.SetAside {
	s := home.SetAside{
		Arrived: d.Arrived, Way: d.Way, Topic: d.Topic, Payload: d.Payload, Reason: reason.Error(),
		Latest: onlyLatest(reason), Retained: d.Retained,
	}
	if len(d.Payload) > payload.MaxBytes {
		s.Payload, s.Cut = d.Payload[:keptOf], true
		s.Reason += fmt.Sprintf("; the first %d bytes are kept", keptOf)
	}
	return s
}

// onlyLatest reports whether of what was set aside for that reason only the newest
// is worth keeping.
func onlyLatest(reason error) bool {
	return errors.Is(reason, ErrUnclaimed) || errors.Is(reason, payload.ErrForeign) || errors.Is(reason, payload.ErrUndated)
}

// retried is what became of d, which was set aside earlier.
func retried(d Delivery, reason error) home.Retried {
	r := home.Retried{ID: d.Again, Arrived: d.Arrived}
	if reason != nil {
		r.Reason, r.Latest = reason.Error(), onlyLatest(reason)
	}
	return r
}

// single is tried when the store can never take a batch: one delivery in it is to
// blame, and must not hold up the others for ever. Each is appended alone, and the one
// that does not fit is set aside. What fails for want of room or the like is nobody's
// fault: that, and all behind it, is to be tried again. It returns how many are
// committed, from the first on.
func (a *Appender) single(ctx context.Context, part []read) (done int) {
	for _, r := range part {
		b, folded := batchOf([]read{r})
		err := a.append(ctx, r.counted(), b, folded)
		if errors.Is(err, home.ErrUnfit) {
			why := fmt.Errorf("the store refused it: %w", err)
			refuseAll(r.Ready, why)
			r.Ready, r.readings, r.reason = nil, nil, why
			blamed, _ := batchOf([]read{r})
			err = a.append(ctx, r.counted(), blamed, 0)
		}
		if err != nil {
			return done
		}
		done++
	}
	return done
}

// refuseAll tells who waits for ready that none of it is stored.
func refuseAll(ready *home.Batch, why error) {
	if ready == nil || ready.Refused == nil {
		return
	}
	for i := range ready.Readings {
		ready.Refused(i, why.Error())
	}
}
