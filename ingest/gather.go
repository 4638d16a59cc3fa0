package ingest

import (
	"context"
	"errors"

	"weighbeam/home"
)

// read is a delivery with what the decoder made of it.
type read struct {
	Delivery
	readings []home.Reading
	reason   error // why something, or all, of it is set aside; nil where nothing is
}

// eager is how many waiting deliveries are decoded before the committer is asked
// whether it is free: enough to fill a commit well, few enough not to keep it waiting.
const eager = 256

// heldShare is the part of Options.Bytes that decoded readings may take, in hand and
// read ahead together, before nothing more is read ahead: a pack of SenML grows to ten
// times its size.
const heldShare = 4

// bytesOf is about what n readings take.
func bytesOf(n int) int64 { return 256 * int64(n) }

// room reports whether batch may grow. One delivery is read ahead in any case, or the
// committer would have nothing to take.
func (a *Appender) room(batch []read) bool {
	return len(batch) == 0 || len(batch) < a.opt.Batch && a.held.Load() < a.opt.Bytes/heldShare
}

// gather decodes deliveries as they come and hands over all it has whenever the
// committer is free, so that the next batch is read while the last is being
// written. It ends, and closes batches, when ctx has ended and nothing waits.
func (a *Appender) gather(ctx context.Context, batches chan<- []read) {
	defer close(batches)
	var batch []read
	for {
		batch = a.more(batch)
		in, out := a.queue.items, batches
		if len(batch) == 0 {
			out = nil
		}
		if !a.room(batch) {
			in = nil
		}
		select {
		case d := <-in:
			batch = append(batch, a.read(*d))
		case out <- batch:
			batch = make([]read, 0, len(batch)) // the next is likely to be as long
		case <-ctx.Done():
			a.rest(batch, batches)
			return
		}
	}
}

// more decodes some of what waits already.
func (a *Appender) more(batch []read) []read {
	for range eager {
		if !a.room(batch) {
			return batch
		}
		select {
		case d := <-a.queue.items:
			batch = append(batch, a.read(*d))
		default:
			return batch
		}
	}
	return batch
}

// rest closes the queue and hands over everything that is left.
func (a *Appender) rest(batch []read, batches chan<- []read) {
	a.queue.close()
	for {
		if batch = a.more(batch); len(batch) == 0 {
			return
		}
		batches <- batch
		batch = nil
	}
}

func (a *Appender) read(d Delivery) read {
	r := read{Delivery: d}
	if d.Ready == nil {
		r.readings, r.reason = a.decoder.Decode(d)
		a.held.Add(bytesOf(len(r.readings)))
	}
	a.tell(r)
	return r
}

// tell hands on what arrived and how it was understood. What is tried again arrived
// long ago.
func (a *Appender) tell(r read) {
	if a.opt.Hearing == nil || r.counted() == WayRetry {
		return
	}
	readings, reason := r.readings, r.reason
	if r.Ready != nil {
		readings = r.Ready.Readings
		if len(r.Ready.SetAside) > 0 {
			reason = errors.New(r.Ready.SetAside[0].Reason)
		}
	}
	a.opt.Hearing.Hear(r.Delivery, readings, reason)
}
