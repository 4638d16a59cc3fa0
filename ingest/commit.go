package ingest

import (
	"context"
	"errors"
	"fmt"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// keptOf is how much of a payload that is too long to be read is set aside.
const keptOf = 4 << 10

// commit appends batch, one way at a time so that each way's counts are its own,
// and settles it.
func (a *Appender) commit(ctx context.Context, batch []Delivery) {
	a.stats.holds(batch, a.opt.Now())
	defer a.stats.holds(nil, time.Time{})
	for _, part := range byWay(batch) {
		a.settle(part, a.insist(ctx, part))
	}
}

// byWay parts a batch by way, keeping the order within each.
func byWay(batch []Delivery) [][]Delivery {
	var parts [][]Delivery
next:
	for i, d := range batch {
		for p := range parts {
			if parts[p][0].Way == d.Way {
				parts[p] = append(parts[p], d)
				continue next
			}
		}
		if len(parts) == 0 && i == 0 && sameWay(batch) {
			return [][]Delivery{batch} // the usual case needs no copy
		}
		parts = append(parts, []Delivery{d})
	}
	return parts
}

func sameWay(batch []Delivery) bool {
	for _, d := range batch {
		if d.Way != batch[0].Way {
			return false
		}
	}
	return true
}

// insist appends part until the store takes it or ctx ends.
func (a *Appender) insist(ctx context.Context, part []Delivery) error {
	b, folded := a.decode(part)
	for pause := time.Duration(0); ; {
		err := a.append(ctx, part[0].Way, b, folded)
		if err == nil {
			return nil
		}
		if ctx.Err() != nil {
			return ErrClosed
		}
		if pause > 0 && a.single(ctx, part) {
			return nil
		}
		pause = min(max(2*pause, a.opt.Floor), a.opt.Cap)
		select {
		case <-time.After(pause):
		case <-ctx.Done():
			return ErrClosed
		}
	}
}

// append commits b and counts it, both or neither. folded is how many of what
// came in were replaced within the batch by a newer payload of their topic.
func (a *Appender) append(ctx context.Context, way string, b home.Batch, folded int) error {
	start := time.Now()
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
	return n
}

// decode turns part into what one commit takes in.
func (a *Appender) decode(part []Delivery) (b home.Batch, folded int) {
	latest := map[string]int{}
	for _, d := range part {
		if d.Ready != nil {
			b.Readings = append(b.Readings, d.Ready.Readings...)
			b.Checks = append(b.Checks, d.Ready.Checks...)
			b.SetAside = append(b.SetAside, d.Ready.SetAside...)
			continue
		}
		readings, err := a.decoder.Decode(d)
		b.Readings = append(b.Readings, readings...)
		if err == nil {
			continue
		}
		aside := setAside(d, err)
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

// setAside is d as it is kept with the reason why it could not be read.
func setAside(d Delivery, reason error) home.SetAside {
	s := home.SetAside{
		Arrived: d.Arrived, Way: d.Way, Topic: d.Topic, Payload: d.Payload, Reason: reason.Error(),
		Latest: errors.Is(reason, ErrUnclaimed) || errors.Is(reason, payload.ErrForeign) || errors.Is(reason, payload.ErrUndated),
	}
	if len(d.Payload) > payload.MaxBytes {
		s.Payload = d.Payload[:keptOf]
		s.Reason += fmt.Sprintf("; the first %d bytes are kept", keptOf)
	}
	return s
}

// single is tried when the store refused a batch twice: one delivery in it may be
// what the store cannot take, and must not hold up the others for ever. Each is
// appended alone; one that is refused while setting it aside succeeds is to blame
// itself. It reports whether all of part is committed.
func (a *Appender) single(ctx context.Context, part []Delivery) bool {
	for _, d := range part {
		b, folded := a.decode([]Delivery{d})
		err := a.append(ctx, d.Way, b, folded)
		if err == nil {
			continue
		}
		blamed := home.Batch{SetAside: []home.SetAside{setAside(d, fmt.Errorf("the store refused it: %w", err))}}
		if a.append(ctx, d.Way, blamed, 0) != nil {
			return false // it takes nothing at all
		}
	}
	return true
}
