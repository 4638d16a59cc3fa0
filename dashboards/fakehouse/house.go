package fakehouse

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"weighbeam/home"
)

// House holds what a store would. Fields may be set before it is served.
type House struct {
	Typed map[string]string // secrets of contacts

	mu          sync.Mutex
	Home        home.Household
	Weighed     []home.Weighing // time order
	Counted     []home.Reading  // time order
	Checked     []home.HomeCheck
	Cared       []home.Care // oldest first
	Corrected   []home.Correction
	Visited     []home.Visit
	Status      []home.SourceStatus
	Found       []home.Finding // newest first
	Told        []home.Notice  // newest first
	Aside       []home.SetAside
	NamedBeside []home.NamedCat
	Said        []home.Reaction
	Outlooks    map[string]home.Outlook
	Trends      map[string][]home.TrendPoint
	Err         error // if set, every answer is this error
	AppendErr   error // if set, nothing is stored
	ClaimErr    error // if set, no topic is claimed
	Moved       bool  // with the last claim
	Ear         *Ear  // what arrives; nil where nobody listens

	Says       *home.LiveLoad // what a scale says now
	Calibrated []home.Calibration
	FitErr     error // if set, no points can be used
}

// Household is the cats and scales.
func (h *House) Household(context.Context) (home.Household, error) { return h.Home, h.Err }

// Weighings returns those of a cat in [from, to).
func (h *House) Weighings(_ context.Context, cat string, from, to time.Time) ([]home.Weighing, error) {
	return keep(h.Weighed, func(w home.Weighing) bool { return w.Cat == cat && within(w.Time, from, to) }), h.Err
}

// Counts returns the counts of a cat in [from, to).
func (h *House) Counts(_ context.Context, cat string, q home.Quantity, from, to time.Time) ([]home.Reading, error) {
	return keep(h.Counted, func(r home.Reading) bool { return r.Cat == cat && r.Quantity == q && within(r.Time, from, to) }), h.Err
}

// Checks returns the checks of a cat in [from, to), newest first.
func (h *House) Checks(_ context.Context, cat string, from, to time.Time) ([]home.HomeCheck, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := keep(h.Checked, func(c home.HomeCheck) bool { return c.Cat == cat && within(c.Time, from, to) })
	slices.SortStableFunc(out, func(a, b home.HomeCheck) int { return b.Time.Compare(a.Time) })
	return out, h.Err
}

// Care returns what was done with a cat in [from, to).
func (h *House) Care(_ context.Context, cat string, from, to time.Time) ([]home.Care, error) {
	return keep(h.Cared, func(c home.Care) bool {
		return c.Cat == cat && c.From.Before(to) && (!c.From.Before(from) || c.Kind.Spans() && (c.Until.IsZero() || c.Until.After(from)))
	}), h.Err
}

// Corrections returns what was corrected of a cat.
func (h *House) Corrections(_ context.Context, cat string) ([]home.Correction, error) {
	return keep(h.Corrected, func(c home.Correction) bool { return c.Cat == cat }), h.Err
}

// VisitsOf returns the visits that carry the name of a cat and end in [from, to).
func (h *House) VisitsOf(_ context.Context, cat string, from, to time.Time) ([]home.Visit, error) {
	out := keep(h.Visited, func(v home.Visit) bool { return v.Cat == cat && within(v.End, from, to) })
	slices.SortStableFunc(out, func(a, b home.Visit) int { return a.Start.Compare(b.Start) })
	return out, h.Err
}

// Visits returns the visits of a source in [from, to).
// Visits returns the visits of a source that end in [from, to).
func (h *House) Visits(_ context.Context, source string, from, to time.Time) ([]home.Visit, error) {
	return keep(h.Visited, func(v home.Visit) bool { return v.Source == source && within(v.End, from, to) }), h.Err
}

// NamedCats returns whom readings name of those that h does not know.
func (h *House) NamedCats(_ context.Context, of home.Household, _ time.Time) ([]home.NamedCat, error) {
	return slices.DeleteFunc(slices.Clone(h.NamedBeside), func(n home.NamedCat) bool { _, lives := of.Cat(n.Cat); return lives }), h.Err
}

// Sources returns what was heard of each source.
func (h *House) Sources(context.Context) ([]home.SourceStatus, error) { return h.Status, h.Err }

// Findings returns the findings, newest first.
func (h *House) Findings(_ context.Context, openOnly bool, since time.Time) ([]home.Finding, error) {
	return keep(h.Found, func(f home.Finding) bool {
		return (f.Open() || !openOnly) && (f.Open() || !f.Raised.Before(since))
	}), h.Err
}

// Finding returns one finding.
func (h *House) Finding(_ context.Context, id string) (home.Finding, error) {
	for _, f := range h.Found {
		if f.ID() == id {
			return f, h.Err
		}
	}
	return home.Finding{}, fmt.Errorf("finding %q: %w", id, home.ErrNotFound)
}

// Notices returns the notices of a finding, or all.
func (h *House) Notices(_ context.Context, finding string) ([]home.Notice, error) {
	return keep(h.Told, func(n home.Notice) bool { return finding == "" || n.Finding == finding }), h.Err
}

// SetAsides returns what could not be read.
func (h *House) SetAsides(_ context.Context, limit int) ([]home.SetAside, error) {
	return h.Aside[:min(limit, len(h.Aside))], h.Err
}

// Outlook is what is known of a cat.
func (h *House) Outlook(cat string) home.Outlook { return h.Outlooks[cat] }

// Trend is the smoothed weight of a cat.
func (h *House) Trend(cat string) []home.TrendPoint { return h.Trends[cat] }

// Reactions returns what people said to a finding.
func (h *House) Reactions(_ context.Context, finding string) ([]home.Reaction, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return keep(h.Said, func(r home.Reaction) bool { return r.Finding == finding }), h.Err
}

// React keeps a reaction; one whose id is known changes nothing.
func (h *House) React(_ context.Context, r home.Reaction) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !slices.ContainsFunc(h.Said, func(x home.Reaction) bool { return x.ID == r.ID }) {
		h.Said = append(h.Said, r)
	}
	return h.AppendErr
}

// Name changes the cat of a visit.
func (h *House) Name(_ context.Context, n home.Naming) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	for i, v := range h.Visited {
		if v.Source == n.Source && v.Start.Equal(n.Start) {
			h.Visited[i].Cat, h.Visited[i].Whose = n.Cat, home.Said
			return h.AppendErr
		}
	}
	return home.ErrNotFound
}

// Token is the only link that Open takes; it stands for the finding Falling.
const Token = "made-up-link"

// Open reads a link.
func (h *House) Open(token string, _ time.Time) (home.Reaction, error) {
	if token != Token {
		return home.Reaction{}, errors.New("read an answer: the link is not from this house, or was cut")
	}
	return home.Reaction{ID: "link/1", Finding: Falling.ID(), By: "mail"}, nil
}

// Append keeps the checks of a batch; one whose id is known is a duplicate.
func (h *House) Append(_ context.Context, b home.Batch) (home.Tally, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.AppendErr != nil {
		return home.Tally{}, h.AppendErr
	}
	var t home.Tally
	for _, c := range b.Checks {
		if slices.ContainsFunc(h.Checked, func(x home.HomeCheck) bool { return x.ID == c.ID }) {
			t.Duplicate += len(c.Readings)
			continue
		}
		h.Checked = append(h.Checked, c)
		t.Stored += len(c.Readings)
	}
	return t, nil
}

func within(t, from, to time.Time) bool { return !t.Before(from) && t.Before(to) }

func keep[T any](all []T, ok func(T) bool) []T {
	var out []T
	for _, x := range all {
		if ok(x) {
			out = append(out, x)
		}
	}
	return out
}

// Reverse puts weighings and trends that were made newest first into time order.
func (h *House) Reverse() {
	slices.Reverse(h.Weighed)
	for _, t := range h.Trends {
		slices.Reverse(t)
	}
}
