// Package mirror follows the store's journal into a time-series engine that speaks
// the InfluxDB v2 write API, for dashboards and for many houses in one place.
//
// It guarantees that every reading but raw load, every weighing, every turn
// of a finding and every trend gets there at least once, and that writing one again
// changes nothing: a point is known by its series and time. What the engine refuses
// for good, as what is older than its bucket keeps, is counted and left out. The
// mirror can be thrown away and made again. Where the engine is away, nothing waits
// but the mirror's own position: that costs disk, since the journal goes on, and
// neither memory nor anything else.
//
// Points, each with the tag site where one is set:
//   - "reading", tags source, quantity, cat and state, fields value, sd and window_s;
//   - "weighing", for each cat that a visit may be of, tags source and cat, fields kg,
//     sd and confidence, the probability that it is. A visit that is another cat's
//     now keeps its point with confidence 0;
//   - "trend", the smoothed weight by day, tag cat, fields kg, lo and hi (90 %);
//   - "finding", each turn of one, tags subject and sign, fields open (0 or 1), rank
//     (0 where it is closed, 1 for mention to 4 for now), urgency, turn, text,
//     change_pct and rate.
//
// A reading that a person took back is deleted from the engine. One that knows no
// deletion keeps its point, with the field withdrawn beside it, which is 1.
package mirror

import (
	"context"
	"log/slog"
	"net/http"
	"sync"
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
	Withdrawn(ctx context.Context, source string, q home.Quantity, from, to time.Time) ([]home.Reading, error)
	Visits(ctx context.Context, source string, from, to time.Time) ([]home.Visit, error)
	Household(ctx context.Context) (home.Household, error)
	Findings(ctx context.Context, openOnly bool, since time.Time) ([]home.Finding, error)
	Turns(ctx context.Context, id string) ([]home.Transition, error)
	Decide(ctx context.Context, d home.Decision) error
}

// Config is where the engine is.
type Config struct {
	URL    string // http or https
	Token  string // secret
	Org    string
	Bucket string
	Site   string // tags every point, so that many houses can share an engine
	// Trend is the smoothed weight of a cat; nil: trends are not written.
	Trend func(cat string) []home.TrendPoint
	Log   *slog.Logger // slog.Default
}

// Mirror follows one store into one bucket.
type Mirror struct {
	store  Store
	cfg    Config
	client influxdb2.Client
	write  api.WriteAPIBlocking
	pauses *backoff.ExponentialBackOff
	rest   time.Time // no try before that
	failed error
	trend  trends

	mu      sync.Mutex // guards what is counted
	counted counted
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
	if c.Log == nil {
		c.Log = slog.Default()
	}
	c.Token = "" // the client has it
	return &Mirror{store: store, cfg: c, client: client, write: client.WriteAPIBlocking(c.Org, c.Bucket), pauses: pauses}, nil
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
	m.count(more, err)
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
	next, err := m.copy(ctx, cursor.Journal)
	if err != nil {
		return false, err
	}
	if next == cursor.Journal {
		return false, m.trends(ctx, false)
	}
	// Only after the engine took everything: a crash in between writes it again.
	return true, m.store.Decide(ctx, home.Decision{Cursor: home.Cursor{Name: CursorName, Journal: next}})
}

// copy writes what the entries after one say, and returns the last of them.
func (m *Mirror) copy(ctx context.Context, after int64) (int64, error) {
	news, err := m.store.Journal(ctx, after, entries)
	if err != nil || len(news) == 0 {
		return after, err
	}
	w := &writer{mirror: m}
	for _, e := range news {
		if err := m.takeBack(ctx, e, w.put); err != nil {
			return after, err
		}
		if err := m.points(ctx, e, w.put); err != nil {
			return after, err
		}
		m.trend.touch(e, time.Now())
	}
	return news[len(news)-1].ID, w.flush(ctx)
}

// Rebuild writes everything again, beside a program that may be running: it reads,
// and moves no position. told is called with how many journal entries are done.
func (m *Mirror) Rebuild(ctx context.Context, told func(done int64)) error {
	for at := int64(0); ; {
		next, err := m.copy(ctx, at)
		if err != nil {
			return err
		}
		if next == at {
			return m.trends(ctx, true)
		}
		at = next
		told(at)
	}
}

// Ask returns nil if the engine takes a request that holds nothing.
func (m *Mirror) Ask(ctx context.Context) error { return m.send(ctx, nil) }

func (m *Mirror) send(ctx context.Context, points []*write.Point) error {
	err := m.write.WritePoint(ctx, points...)
	if spoilt(err) && len(points) > 0 && m.write.WritePoint(ctx) == nil { // it is the points, not the settings
		return m.sort(ctx, points, err)
	}
	if err != nil {
		return &home.Error{Op: "write to the mirror", Err: err,
			Hint: "Check url, bucket and token under [influx]. Nothing is lost: the store keeps everything and the mirror follows when it can."}
	}
	m.wrote(len(points))
	return nil
}

// writer sends points in requests of a bounded size.
type writer struct {
	mirror *Mirror
	points []*write.Point
}

func (w *writer) put(ctx context.Context, p *write.Point) error {
	w.points = append(w.points, p)
	if len(w.points) < batch {
		return nil
	}
	return w.flush(ctx)
}

func (w *writer) flush(ctx context.Context) error {
	if len(w.points) == 0 {
		return nil
	}
	points := w.points
	w.points = w.points[:0]
	return w.mirror.send(ctx, points)
}
