// Package heartbeat tells somebody outside the house, again and again, that the
// program runs. When it stops, whoever expects the beat notices: a program that
// is down cannot say so itself.
package heartbeat

import (
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/url"
	"sync"
	"time"

	"weighbeam/home"
	"weighbeam/notify"
)

// Config is where the beat goes, and how often.
type Config struct {
	URL   notify.Secret // http or https; asked with GET
	Every time.Duration // 0: DefaultEvery
	Well  func() bool   // the beat is left out while it returns false; nil: always well
	Log   *slog.Logger  // nil: slog.Default()
}

// DefaultEvery is how often the beat goes out.
const DefaultEvery = 5 * time.Minute

// patience is how long one beat may take.
const patience = 20 * time.Second

// Heartbeat sends the beat while Run runs.
type Heartbeat struct {
	conf   Config
	client *http.Client

	mu   sync.Mutex
	last time.Time
}

// New returns a heartbeat, or what is wrong with c, without quoting the address.
func New(c Config) (*Heartbeat, error) {
	u, err := url.Parse(string(c.URL))
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" {
		return nil, home.Hinted("set up the heartbeat", "Write the address as https://host/path.", "the address cannot be used")
	}
	if c.Every <= 0 {
		c.Every = DefaultEvery
	}
	if c.Well == nil {
		c.Well = func() bool { return true }
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &Heartbeat{conf: c, client: &http.Client{Timeout: patience, CheckRedirect: stay}}, nil
}

// Last is when the last beat was taken, zero for never.
func (h *Heartbeat) Last() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last
}

// Run beats at once and then every Config.Every, until ctx ends. A beat that
// fails is logged when that begins, not each time.
func (h *Heartbeat) Run(ctx context.Context) {
	tick := time.NewTicker(h.conf.Every)
	defer tick.Stop()
	failing := false
	for {
		if h.conf.Well() {
			ok := h.beat(ctx)
			if !ok && !failing && ctx.Err() == nil {
				h.conf.Log.Warn("the heartbeat was not taken")
			}
			failing = !ok
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

func (h *Heartbeat) beat(ctx context.Context) bool {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, string(h.conf.URL), nil)
	if err != nil {
		return false
	}
	req.Header.Set("User-Agent", "weighbeam")
	resp, err := h.client.Do(req)
	if err != nil {
		return false
	}
	defer resp.Body.Close()
	_, _ = io.Copy(io.Discard, io.LimitReader(resp.Body, 4<<10))
	if resp.StatusCode < 200 || resp.StatusCode > 299 {
		return false
	}
	h.mu.Lock()
	h.last = time.Now()
	h.mu.Unlock()
	return true
}
