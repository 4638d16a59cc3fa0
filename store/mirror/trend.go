package mirror

import (
	"context"
	"errors"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"weighbeam/home"
)

// trendWait is how long after a change of a cat its trend is written: watching is a
// quarter of an hour behind, and one write does for what comes meanwhile.
const trendWait = 20 * time.Minute

// trends knows whose trend is to be written, and when.
type trends struct {
	begun bool                 // since the start each cat's was written once
	due   map[string]time.Time // by cat
	stale map[string]bool      // by cat: some of its days may be there no more
}

// clear says that a weight of a cat was taken back.
func (t *trends) clear(cat string) {
	if t.stale == nil {
		t.stale = map[string]bool{}
	}
	t.stale[cat] = true
}

// touch says that an entry may have changed a trend.
func (t *trends) touch(e home.Entry, now time.Time) {
	weighed := e.Matter == home.OfVisit || e.Matter == home.OfReading && e.Quantity == home.Weight
	if _, ok := t.due[e.Cat]; ok || e.Cat == "" || !weighed {
		return
	}
	if t.due == nil {
		t.due = map[string]time.Time{}
	}
	t.due[e.Cat] = now.Add(trendWait)
}

// wait keeps the trend of a cat due.
func (t *trends) wait(cat string) {
	if t.due == nil {
		t.due = map[string]time.Time{}
	}
	t.due[cat] = time.Time{}
}

// trends writes the trends that are due, or all. Each is written whole: what comes
// in moves the days before, too.
func (m *Mirror) trends(ctx context.Context, all bool) error {
	if m.cfg.Trend == nil {
		return nil
	}
	h, err := m.store.Household(ctx)
	if err != nil {
		return err
	}
	for _, c := range h.Cats {
		due, waits := m.trend.due[c.ID]
		if !all && m.trend.begun && (!waits || time.Now().Before(due)) {
			continue
		}
		trend := m.cfg.Trend(c.ID)
		if len(trend) == 0 {
			m.trend.wait(c.ID) // nothing was watched yet, or it was never weighed
			continue
		}
		// Who was not there when a weight was taken back does not know of it.
		if all || !m.trend.begun || m.trend.stale[c.ID] {
			if err := m.forget(ctx, c.ID); err != nil {
				return err
			}
		}
		w := &writer{mirror: m}
		for _, p := range trend {
			point := write.NewPointWithMeasurement("trend").SetTime(p.Time).AddField("kg", p.Value).AddField("lo", p.Lo).AddField("hi", p.Hi)
			if err := w.put(ctx, m.tag(point, c.ID)); err != nil {
				return err
			}
		}
		if err := w.flush(ctx); err != nil {
			return err
		}
		delete(m.trend.due, c.ID)
		delete(m.trend.stale, c.ID)
	}
	m.trend.begun = true
	return nil
}

// forget deletes the trend of a cat, where the engine knows how.
func (m *Mirror) forget(ctx context.Context, cat string) error {
	err := m.erase(ctx, "trend", time.Unix(0, 0).UTC(), time.Now().AddDate(1, 0, 0).UTC(), "cat", cat)
	if errors.Is(err, errNoDeletion) {
		return nil
	}
	return err
}
