package mirror

import (
	"context"
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
	}
	m.trend.begun = true
	return nil
}
