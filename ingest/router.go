package ingest

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// ErrUnclaimed marks, by errors.Is, a payload from a topic that no scale claims.
var ErrUnclaimed = errors.New("no scale claims this topic")

// Router is the [Decoder] of a household: it finds the scale that claims a topic
// and reads the payload as that scale says. SenML whose names name their source
// needs no claim. It can be given another household at any time.
type Router struct {
	now atomic.Pointer[routes]
}

// routes are those of one household.
type routes struct {
	household home.Household
	claims    []claim
	readers   []claim // of tags, by their own topic
}

type claim struct {
	scale  home.Scale
	decode payload.Decoder
}

// NewRouter returns a router for h.
func NewRouter(h home.Household) (*Router, error) {
	r := &Router{}
	return r, r.SetHousehold(h)
}

// SetHousehold makes h the household from the next payload on. On an error
// nothing has changed.
func (r *Router) SetHousehold(h home.Household) error {
	claims := []claim{}
	readers, err := readersOf(h)
	if err != nil {
		return err
	}
	for _, s := range h.Scales {
		if s.Topic == "" {
			continue
		}
		if err := ValidFilter(s.Topic); err != nil {
			return fmt.Errorf("scale %q: %w", s.ID, err)
		}
		d, err := payload.ForScale(s)
		if err != nil {
			return err
		}
		claims = append(claims, claim{s, d})
	}
	r.now.Store(&routes{h, claims, readers})
	return nil
}

// Scale returns the scale with that id.
func (r *Router) Scale(id string) (home.Scale, bool) {
	return r.now.Load().household.Scale(id)
}

// Claimants are the scales that claim a topic: usually one, or none.
func (r *Router) Claimants(topic string) []home.Scale {
	var scales []home.Scale
	for _, c := range append(r.claimants(topic), r.readers(topic)...) {
		scales = append(scales, c.scale)
	}
	return scales
}

// Decode is part of [Decoder].
func (r *Router) Decode(d Delivery) ([]home.Reading, error) {
	a := payload.Arrival{Time: d.Arrived, Retained: d.Retained, Resent: d.Resent}
	claimed := r.claimants(d.Topic)
	if readers := r.readers(d.Topic); len(readers) > 0 {
		return tagged(claimed, readers, d, a)
	}
	switch len(claimed) {
	case 0:
		return unclaimed(d, a)
	case 1:
		return claimed[0].decode(d.Payload, a)
	}
	return shared(claimed, d, a)
}

// shared reads a payload from a topic that several scales claim: it must be SenML
// whose names say which of them each reading is from.
func shared(claimed []claim, d Delivery, a payload.Arrival) ([]home.Reading, error) {
	readings, err := unclaimed(d, a)
	for _, r := range readings {
		if !slices.ContainsFunc(claimed, func(c claim) bool { return c.scale.ID == r.Source }) {
			return nil, fmt.Errorf("source %q is none of those that claim this topic (%s)", r.Source, names(claimed))
		}
	}
	if len(readings) == 0 {
		return nil, fmt.Errorf("%d scales claim this topic (%s) and the payload does not say which sent it", len(claimed), names(claimed))
	}
	return readings, err
}

func (r *Router) claimants(topic string) []claim {
	var found []claim
	for _, c := range r.now.Load().claims {
		if Match(c.scale.Topic, topic) {
			found = append(found, c)
		}
	}
	return found
}

// unclaimed reads a payload that no scale claims: it must be SenML with full names.
func unclaimed(d Delivery, a payload.Arrival) ([]home.Reading, error) {
	if len(d.Payload) > payload.MaxBytes || !strings.HasPrefix(strings.TrimSpace(string(d.Payload[:min(len(d.Payload), 64)])), "[") {
		return nil, ErrUnclaimed
	}
	readings, err := payload.SenMLJSON(d.Payload, a, home.Scale{})
	if len(readings) == 0 && err != nil {
		return nil, fmt.Errorf("%w, and read as SenML: %w", ErrUnclaimed, err)
	}
	return readings, err
}

func names(claimed []claim) string {
	ids := make([]string, len(claimed))
	for i, c := range claimed {
		ids[i] = c.scale.ID
	}
	return strings.Join(ids, ", ")
}
