package httpapi

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
)

// Path is where the handler belongs.
const Path = "/api/v1/readings"

// Sink takes deliveries; see [ingest.Appender].
type Sink interface {
	Deliver(ctx context.Context, d ingest.Delivery) error
	Arrival() time.Time
}

// Scales knows the household's scales; see [ingest.Router].
type Scales interface {
	Scale(id string) (home.Scale, bool)
}

// Answers knows what was answered to requests with a key; see [store.DB]. They are
// stored with what they answer for, by way of the [Sink].
type Answers interface {
	Answer(ctx context.Context, key home.Hash) (a home.Answer, found bool, err error)
}

// Device is who may post, and for which sources.
type Device struct {
	Name    string
	Token   string   // as it is, or "sha256:" and the hexadecimal hash of it
	Sources []string // ids; of one alone the names in SenML may leave out the source
}

// Config of a [Handler].
type Config struct {
	Devices []Device      // empty: only from this machine, for any source
	Wait    time.Duration // for the commit; 10 s
}

// Handler serves [Path].
type Handler struct {
	cfg    Config
	sink   Sink
	scales Scales
	gate   gate
	keys   *keys
	doubts doubts
}

// New returns a handler; the error says which device is not well described.
func New(cfg Config, sink Sink, scales Scales, answers Answers) (*Handler, error) {
	if cfg.Wait == 0 {
		cfg.Wait = 10 * time.Second
	}
	g, err := newGate(cfg.Devices)
	if err != nil {
		return nil, err
	}
	return &Handler{cfg: cfg, sink: sink, scales: scales, gate: g, keys: newKeys(answers), doubts: doubts{open: map[home.Hash]bool{}}}, nil
}

// ServeHTTP is part of http.Handler.
func (h *Handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		w.Header().Set("Allow", http.MethodPost)
		refuse(http.StatusMethodNotAllowed, "Only POST is answered here.").write(w)
		return
	}
	device, bad := h.gate.admit(r)
	if bad != nil {
		bad.write(w)
		return
	}
	body, bad := readBody(w, r)
	if bad != nil {
		bad.write(w)
		return
	}
	kind := r.Header.Get("Content-Type")
	c, answered := h.keys.claim(r.Context(), r.Header.Get("Idempotency-Key"), device.Name, kind, body)
	if answered == nil {
		answered = h.take(r.Context(), device, kind, body, c)
	}
	answered.write(w)
}

// Guard stands before another handler: it lets through who may post for source.
func (h *Handler) Guard(source string, next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		device, bad := h.gate.admit(r)
		if bad == nil && len(device.Sources) > 0 && !slices.Contains(device.Sources, source) {
			bad = refuse(http.StatusForbidden, fmt.Sprintf("Device %q may not send for source %q: add it to its sources in the settings.", device.Name, source))
		}
		if bad != nil {
			bad.write(w)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// readBody reads at most what can be decoded.
func readBody(w http.ResponseWriter, r *http.Request) ([]byte, *answer) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, payload.MaxBytes))
	var long *http.MaxBytesError
	switch {
	case errors.As(err, &long):
		return nil, refuse(http.StatusRequestEntityTooLarge, fmt.Sprintf("Send at most %d bytes at a time.", payload.MaxBytes))
	case err != nil:
		return nil, refuse(http.StatusBadRequest, "The body broke off.")
	}
	return body, nil
}

// take decodes a body, hands it over and waits for the commit.
func (h *Handler) take(ctx context.Context, device Device, contentType string, body []byte, c *claim) *answer {
	arrived, request := h.sink.Arrival(), requestOf(device.Name, contentType, body)
	readings, bad, reason := h.decode(device, contentType, body, payload.Arrival{Time: arrived, Resent: h.doubts.has(request)})
	if bad != nil {
		c.release()
		return bad
	}
	out := &outcome{readings: readings, reason: reason}
	batch := &home.Batch{Readings: readings, Refused: out.refuse}
	if reason != nil {
		batch.SetAside = []home.SetAside{{Arrived: arrived, Way: ingest.WayHTTP, Topic: h.topic(device), Payload: body, Reason: reason.Error()}}
	}
	if c != nil {
		batch.Answers = []home.Answer{out.kept(c)}
	}
	ctx, cancel := context.WithTimeout(ctx, h.cfg.Wait)
	defer cancel()
	if err := h.commit(ctx, ingest.Delivery{Way: ingest.WayHTTP, Topic: h.topic(device), Payload: body, Arrived: arrived, Ready: batch}, c); err != nil {
		if errors.Is(err, errSlow) {
			h.doubts.set(request, true)
		}
		return refuse(http.StatusServiceUnavailable, "Nothing was confirmed as stored ("+err.Error()+"). Send it again.").retryAfter(5)
	}
	h.doubts.set(request, false)
	return out.answer()
}

// topic names who sent something, for what is set aside.
func (h *Handler) topic(device Device) string {
	if device.Name == "" {
		return Path
	}
	return Path + "#" + device.Name
}

// errSlow is of what was handed over and is at work still.
var errSlow = errors.New("the store is slow")

// commit hands d over and waits until it is settled. The claim lasts until then,
// also where nobody waits any more.
func (h *Handler) commit(ctx context.Context, d ingest.Delivery, c *claim) error {
	settled := make(chan error, 1) // filled after the wait is over as well
	d.Settle = func(err error) {
		c.release()
		settled <- err
	}
	if err := h.sink.Deliver(ctx, d); err != nil {
		c.release()
		return err
	}
	select {
	case err := <-settled:
		return err
	case <-ctx.Done():
		return errSlow
	}
}

// decode reads a body by its content type. reason is what could not be read of it.
func (h *Handler) decode(device Device, contentType string, body []byte, a payload.Arrival) (readings []home.Reading, bad *answer, reason error) {
	kind, _, err := mime.ParseMediaType(contentType)
	if err != nil {
		kind = ""
	}
	read, known := forms[kind]
	if !known {
		return nil, refuse(http.StatusUnsupportedMediaType, "Send application/senml+json, application/senml+cbor or text/csv."), nil
	}
	readings, reason = device.read(h.scales, read, body, a)
	return readings, nil, reason
}
