package mirror

import (
	"context"
	"time"

	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"weighbeam/home"
)

// put takes one point on its way.
type put = func(ctx context.Context, p *write.Point) error

// points puts those of one journal entry.
func (m *Mirror) points(ctx context.Context, e home.Entry, put put) error {
	switch {
	case e.Matter == home.OfReading && e.Quantity != home.Load:
		return m.readings(ctx, e, put)
	case e.Matter == home.OfVisit && e.Cat != "":
		visits, err := m.store.Visits(ctx, e.Source, e.From, e.To.Add(home.TimeStep))
		if err != nil {
			return err
		}
		return put(ctx, m.weighing(e, visits))
	case e.Matter == home.OfFinding:
		return m.findings(ctx, e, put)
	}
	return nil
}

// readings puts those of an entry. One entry may be of years, as an import is: they
// are read in pieces, so that no more is held than about a request.
func (m *Mirror) readings(ctx context.Context, e home.Entry, put put) error {
	end := e.To.Add(home.TimeStep)
	piece := max(end.Sub(e.From)/time.Duration(e.N/batch+1), time.Hour)
	for from := e.From; from.Before(end); from = from.Add(piece) {
		to := from.Add(piece)
		if to.After(end) {
			to = end
		}
		readings, err := m.store.Readings(ctx, e.Source, e.Quantity, from, to)
		if err != nil {
			return err
		}
		for _, r := range readings {
			if err := put(ctx, m.reading(r)); err != nil {
				return err
			}
		}
	}
	return nil
}

// findings puts every turn of the findings that an entry is about: those of its
// source, a cat or a scale, that were raised at its beginning.
func (m *Mirror) findings(ctx context.Context, e home.Entry, put put) error {
	found, err := m.store.Findings(ctx, false, e.From)
	if err != nil {
		return err
	}
	for _, f := range found {
		if f.Subject() != e.Source || f.Raised.UnixMicro() != e.From.UnixMicro() {
			continue
		}
		turns, err := m.store.Turns(ctx, f.ID())
		if err != nil {
			return err
		}
		for _, t := range turns {
			if err := put(ctx, m.turn(t)); err != nil {
				return err
			}
		}
	}
	return nil
}

func (m *Mirror) turn(t home.Transition) *write.Point {
	f := t.Finding
	open, rank := 1, f.Urgency.Rank()
	if !f.Open() {
		open, rank = 0, 0
	}
	p := write.NewPointWithMeasurement("finding").SetTime(t.At).AddTag("subject", f.Subject()).AddTag("sign", string(f.Sign)).
		AddField("open", open).AddField("rank", rank).AddField("urgency", string(f.Urgency)).AddField("turn", string(t.Turn)).
		AddField("text", f.Text).AddField("change_pct", f.ChangePct)
	if f.RateUnit != "" {
		p.AddField("rate", f.Rate)
	}
	return m.tag(p, f.Cat)
}

func (m *Mirror) reading(r home.Reading) *write.Point {
	p := write.NewPointWithMeasurement("reading").SetTime(r.Time).AddTag("source", r.Source).AddTag("quantity", string(r.Quantity)).
		AddField("value", r.Value)
	if r.SD > 0 {
		p.AddField("sd", r.SD)
	}
	if r.Quantity.Counted() {
		p.AddField("window_s", r.Window.Seconds()).AddTag("state", string(r.State))
	}
	return m.tag(p, r.Cat)
}

// weighing is the point of the visit that the entry is about, for the entry's cat:
// the visit may have gone to another since, or be gone.
func (m *Mirror) weighing(e home.Entry, visits []home.Visit) *write.Point {
	p := write.NewPointWithMeasurement("weighing").SetTime(e.From).AddTag("source", e.Source)
	confidence := 0.0
	for _, v := range visits {
		for _, w := range v.Weighings() {
			if w.Cat == e.Cat {
				p.AddField("kg", w.Kg).AddField("sd", w.SDKg)
				confidence = w.Confidence
			}
		}
	}
	return m.tag(p.AddField("confidence", confidence), e.Cat)
}

func (m *Mirror) tag(p *write.Point, cat string) *write.Point {
	if cat != "" {
		p.AddTag("cat", cat)
	}
	if m.cfg.Site != "" {
		p.AddTag("site", m.cfg.Site)
	}
	return p.SortTags()
}
