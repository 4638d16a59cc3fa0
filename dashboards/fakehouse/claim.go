package fakehouse

import (
	"context"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
)

// Suggest finds a plain number in what has digits, and two places in JSON.
func (h *House) Suggest(payload []byte) []string {
	if strings.HasPrefix(string(payload), "{") {
		return []string{"json:/weight", "json:/battery"}
	}
	return []string{"number"}
}

// Claimed reports whether a scale has exactly this topic.
func (h *House) Claimed(topic string) bool {
	return slices.ContainsFunc(h.Home.Scales, func(s home.Scale) bool { return s.Topic == topic })
}

// Claim gives the topic to a scale, and what was set aside on it counts as read.
// With ClaimErr it fails.
func (h *House) Claim(_ context.Context, s home.Scale, move bool) (home.Retry, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.ClaimErr != nil {
		return home.Retry{}, h.ClaimErr
	}
	i := slices.IndexFunc(h.Home.Scales, func(o home.Scale) bool { return o.ID == s.ID })
	if i < 0 {
		h.Home.Scales = append(h.Home.Scales, home.Scale{ID: s.ID, Kind: s.Kind})
		i = len(h.Home.Scales) - 1
	}
	o := &h.Home.Scales[i]
	o.Topic, o.Payload, o.Unit, o.Sends, h.Moved = s.Topic, s.Payload, s.Unit, s.Sends, move
	before := len(h.Aside)
	h.Aside = slices.DeleteFunc(h.Aside, func(a home.SetAside) bool { return a.Topic == s.Topic })
	return home.Retry{Tried: before - len(h.Aside), Read: before - len(h.Aside)}, nil
}

// Dismiss lets go of what belongs to of and came until seen.
func (h *House) Dismiss(_ context.Context, of string, seen time.Time) (int64, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	before := len(h.Aside)
	h.Aside = slices.DeleteFunc(h.Aside, func(a home.SetAside) bool { return a.Of() == of && !a.Arrived.After(seen) })
	return int64(before - len(h.Aside)), h.ClaimErr
}

// Retry tries everything and reads nothing.
func (h *House) Retry(context.Context, string) (home.Retry, error) {
	return home.Retry{Tried: len(h.Aside), Left: h.Aside}, h.Err
}
