// Package mirror follows the store's journal into a time-series engine that speaks
// the InfluxDB v2 write API, for dashboards and for many houses in one place.
//
// It guarantees that every reading but raw load, and every weighing, gets
// there at least once, and that writing one again changes nothing: a point is
// known by its series and time. The mirror can be thrown away and made again.
// Where the engine is away, nothing waits but the mirror's own position.
//
// Points: measurement "reading" with the tags site, source, quantity and cat and
// the fields value and sd; measurement "weighing", for each cat that a visit
// may be of, with the tags site, source and cat and the fields kg, sd and
// confidence, the probability that it is. A visit that is another cat's now keeps its point with confidence 0: the engine may not
// know how to delete.
package mirror

import (
	"context"
	"net/http"
	"time"

	"github.com/cenkalti/backoff/v5"
	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
	"github.com/influxdata/influxdb-client-go/v2/api"
	"github.com/influxdata/influxdb-client-go/v2/api/write"

	"weighbeam/home"
)

// Store is what a Mirror needs of the store.
type Store interface {
	Journal(ctx context.Context, after int64, limit int) ([]home.Entry, error)
	Cursor(ctx context.Context, name string) (home.Cursor, error)
	Readings(ctx context.Context, source string, q home.Quantity, from, to time.Time) ([]home.Reading, error)
	Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error)
	Decide(ctx context.Context, d home.Decision) error
}

// Config is where the engine is.
type Config struct {
	URL    string // http or https
	Token  string // secret
	Org    string
	Bucket string
	Site   string // tags every point, so that many houses can share an engine
}

// Mirror follows one store into one bucket.
type Mirror struct {
	store  Store
	site   string
	client influxdb2.Client
	write  api.WriteAPIBlocking
	pauses *backoff.ExponentialBackOff
	rest   time.Time // no try before that
	failed error
}

// CursorName is the name of the mirror's position in the store.
const CursorName = "mirror"

const (
	entries  = 500  // of the journal a round
	batch    = 5000 // points a request
	patience = 20 * time.Second
)

// New returns a Mirror, or what is wrong with c. Nothing is sent before Round.
func New(store Store, c Config) (*Mirror, error) {
	if c.URL == "" || c.Bucket == "" {
		return nil, home.Hinted("set up the mirror", "Write url and bucket under [influx].", "it has no url or no bucket")
	}
	if c.Site != "" {
		if err := home.ValidID("site", c.Site); err != nil {
			return nil, &home.Error{Op: "set up the mirror", Err: err}
		}
	}
	opts := influxdb2.DefaultOptions().SetHTTPClient(&http.Client{Timeout: patience}).SetPrecision(time.Microsecond).SetLogLevel(0)
	client := influxdb2.NewClientWithOptions(c.URL, c.Token, opts)
	pauses := backoff.NewExponentialBackOff()
	pauses.InitialInterval, pauses.MaxInterval = time.Second, time.Minute
	return &Mirror{store: store, site: c.Site, client: client, write: client.WriteAPIBlocking(c.Org, c.Bucket), pauses: pauses}, nil
}

// Close lets go of the engine.
func (m *Mirror) Close() { m.client.Close() }

// Round writes what is new since the last round. more says that the journal may
// hold more. After a failure it does nothing for a while, which grows to a
// minute, and returns the same error.
func (m *Mirror) Round(ctx context.Context) (more bool, err error) {
	if time.Now().Before(m.rest) {
		return false, m.failed
	}
	more, err = m.round(ctx)
	if err != nil && ctx.Err() == nil {
		m.rest = time.Now().Add(m.pauses.NextBackOff())
	}
	if err == nil {
		m.pauses.Reset()
	}
	m.failed = err
	return more, err
}

func (m *Mirror) round(ctx context.Context) (bool, error) {
	cursor, err := m.store.Cursor(ctx, CursorName)
	if err != nil {
		return false, err
	}
	news, err := m.store.Journal(ctx, cursor.Journal, entries)
	if err != nil || len(news) == 0 {
		return false, err
	}
	var points []*write.Point
	for _, e := range news {
		some, err := m.points(ctx, e)
		if err != nil {
			return false, err
		}
		points = append(points, some...)
	}
	for len(points) > 0 {
		n := min(batch, len(points))
		if err := m.write.WritePoint(ctx, points[:n]...); err != nil {
			return false, &home.Error{Op: "write to the mirror", Err: err,
				Hint: "Check url, bucket and token under [influx]. Nothing is lost: the store keeps everything and the mirror follows when it can."}
		}
		points = points[n:]
	}
	// Only after the engine took everything: a crash in between writes it again.
	next := home.Cursor{Name: CursorName, Journal: news[len(news)-1].ID}
	return len(news) == entries, m.store.Decide(ctx, home.Decision{Cursor: next})
}

// points are those of one journal entry.
func (m *Mirror) points(ctx context.Context, e home.Entry) ([]*write.Point, error) {
	switch {
	case e.Matter == home.OfReading && e.Quantity != home.Load:
		readings, err := m.store.Readings(ctx, e.Source, e.Quantity, e.From, e.To.Add(home.TimeStep))
		var points []*write.Point
		for _, r := range readings {
			points = append(points, m.reading(r))
		}
		return points, err
	case e.Matter == home.OfVisit && e.Cat != "":
		visits, err := m.store.Visits(ctx, e.Source, e.From, e.To.Add(home.TimeStep))
		if err != nil {
			return nil, err
		}
		return []*write.Point{m.weighing(e, visits)}, nil
	}
	return nil, nil
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
	if m.site != "" {
		p.AddTag("site", m.site)
	}
	return p.SortTags()
}
