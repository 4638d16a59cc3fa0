package weigh

import (
	"context"
	"time"

	"weighbeam/home"
)

// pageSize is how many readings of a series are held at a time.
const pageSize = 2_000

// series is what one source said of one quantity.
type series struct {
	source   string
	quantity home.Quantity
}

// fresh steps w through what the entries say is new, in time order. It is read a page
// at a time: a device that hands in months takes no more memory than one that hands in
// minutes. What begins before w has a use for it came late, and that part is not read.
func (r *Runner) fresh(ctx context.Context, w *Weigher, entries []home.Entry, now time.Time) error {
	var all []*pages
	for k, p := range news(entries) {
		if from := w.seen(k); p.from.Before(from) {
			w.late, p.from = true, from
		}
		all = append(all, p)
	}
	for {
		var first *pages
		for _, p := range all {
			if err := p.fill(ctx, r.store, r.page); err != nil {
				return err
			}
			if len(p.read) > 0 && (first == nil || inTime(p.read[0], first.read[0]) < 0) {
				first = p
			}
		}
		if first == nil {
			return nil
		}
		if reading, ok := w.believe(first.read[0], now); ok {
			w.Step(reading)
		}
		first.read = first.read[1:]
	}
}

// news is what the entries say is new of each series that matters for weighing.
func news(entries []home.Entry) map[series]*pages {
	all := map[series]*pages{}
	for _, e := range entries {
		if !weighs(e) {
			continue
		}
		k, to := series{e.Source, e.Quantity}, e.To.Add(home.TimeStep)
		p := all[k]
		if p == nil {
			p = &pages{of: k, from: e.From, to: to}
			all[k] = p
		}
		if e.From.Before(p.from) {
			p.from = e.From
		}
		if to.After(p.to) {
			p.to = to
		}
	}
	return all
}

// weighs reports whether an entry is of readings that [Weigher.Step] has a use for.
func weighs(e home.Entry) bool {
	switch {
	case e.Matter != home.OfReading:
		return false
	case e.Quantity == home.Weight:
		return e.Cat != "" || e.Source != home.Hand && e.Source != home.Clinic
	}
	return e.Quantity == home.Load || e.Quantity == home.Tag
}

// pages reads the readings of a series from from to before to.
type pages struct {
	of       series
	from, to time.Time
	read     []home.Reading // not stepped yet
}

// fill reads the next page where the last one is used up. All readings of one moment
// are on one page.
func (p *pages) fill(ctx context.Context, store Store, size int) error {
	if len(p.read) > 0 || !p.from.Before(p.to) {
		return nil
	}
	page, err := store.FirstReadings(ctx, p.of.source, p.of.quantity, p.from, p.to, size)
	if err != nil {
		return err
	}
	if len(page) < size {
		p.read, p.from = page, p.to
		return nil
	}
	last := page[len(page)-1].Time
	if page[0].Time.Equal(last) { // more at one moment than a page has room for
		return p.fill(ctx, store, 2*size)
	}
	for page[len(page)-1].Time.Equal(last) {
		page = page[:len(page)-1]
	}
	p.read, p.from = page, last
	return nil
}

// seen is the time before which w has no use for a reading of a series any more.
func (w *Weigher) seen(k series) time.Time {
	if k.quantity != home.Load {
		return w.released
	}
	if s := w.scales[k.source]; s != nil {
		return s.last
	}
	return time.Time{}
}
