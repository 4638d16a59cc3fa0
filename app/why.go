package app

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// Why is a finding with all that was decided about it and said to it.
type Why struct {
	Finding home.Finding
	Moments []Moment // in time order
}

// Moment is one thing that happened around a finding.
type Moment struct {
	At      time.Time        `json:"at"`
	What    string           `json:"what"`              // a turn of the finding, "answer", or "notice"
	Turn    home.Turn        `json:"turn,omitempty"`    // of a notice: what it tells
	Channel string           `json:"channel,omitempty"` // of a notice, or by which somebody answered
	State   home.NoticeState `json:"state,omitempty"`   // of a notice, after the decision
	Why     string           `json:"why"`               // a full sentence
	Due     time.Time        `json:"due,omitzero"`      // of a notice that waits
}

// FindFinding returns the finding of that id, or the one whose id begins with or
// holds the text. Of several incidents of one cat and sign it is the newest.
func FindFinding(ctx context.Context, db *store.DB, text string) (home.Finding, error) {
	all, err := db.Findings(ctx, false, time.Time{})
	if err != nil {
		return home.Finding{}, err
	}
	like := matching(all, func(id string) bool { return strings.HasPrefix(id, text) })
	if len(like) == 0 {
		like = matching(all, func(id string) bool { return strings.Contains(id, text) })
	}
	if len(like) == 0 {
		return home.Finding{}, home.Hinted("look up a finding", "weighbeam why, without a name, lists them.", "there is no finding like %q: %w", text, home.ErrNotFound)
	}
	for _, f := range like[1:] {
		if f.Subject() != like[0].Subject() || f.Sign != like[0].Sign {
			return home.Finding{}, home.Hinted("look up a finding", "Say more of its id: "+ids(like)+".", "%q fits several findings", text)
		}
	}
	return like[0], nil
}

func matching(all []home.Finding, fits func(id string) bool) []home.Finding {
	return slices.DeleteFunc(slices.Clone(all), func(f home.Finding) bool { return !fits(f.ID()) })
}

// ids lists the first few.
func ids(all []home.Finding) string {
	const most = 5
	var list []string
	for _, f := range all[:min(len(all), most)] {
		list = append(list, f.ID())
	}
	if len(all) > most {
		list = append(list, fmt.Sprintf("and %d more", len(all)-most))
	}
	return strings.Join(list, ", ")
}

// ReadWhy gathers all that is stored around a finding.
func ReadWhy(ctx context.Context, db *store.DB, f home.Finding) (Why, error) {
	w := Why{Finding: f}
	turns, err := db.Turns(ctx, f.ID())
	if err != nil {
		return w, err
	}
	for _, t := range turns {
		w.Moments = append(w.Moments, Moment{At: t.At, What: string(t.Turn), Why: turned(t)})
	}
	if err := w.decisions(ctx, db); err != nil {
		return w, err
	}
	said, err := db.Reactions(ctx, f.ID())
	if err != nil {
		return w, err
	}
	for _, r := range said {
		w.Moments = append(w.Moments, Moment{At: r.At, What: "answer", Channel: r.By, Why: answered(r)})
	}
	slices.SortStableFunc(w.Moments, func(a, b Moment) int { return cmp.Or(a.At.Compare(b.At), strings.Compare(a.Channel, b.Channel)) })
	return w, nil
}

// turned says what a turn changed.
func turned(t home.Transition) string {
	if t.Turn == home.Closed {
		return t.Finding.Reason
	}
	return strings.TrimSpace(string(t.Finding.Urgency) + ". " + t.Finding.Text)
}

func answered(r home.Reaction) string {
	words := map[home.ReactionKind]string{
		home.SeenTo: "It is seen to.", home.VetKnows: "The practice knows.", home.Explained: "There is a reason for it.",
		home.Snoozed: "To be reminded on " + r.Until.Format(time.DateOnly) + ".",
	}[r.Kind]
	return strings.TrimSpace(words + " " + r.Note)
}

// decisions adds every decision about the notices of the finding.
func (w *Why) decisions(ctx context.Context, db *store.DB) error {
	notices, err := db.Notices(ctx, w.Finding.ID())
	if err != nil {
		return err
	}
	byID := map[string]home.Notice{}
	for _, n := range notices {
		byID[n.ID] = n
	}
	steps, err := db.NoticeSteps(ctx, w.Finding.ID())
	if err != nil {
		return err
	}
	for _, s := range steps {
		n := byID[s.Notice]
		m := Moment{At: s.At, What: "notice", Turn: n.Turn, Channel: n.Channel, State: s.State, Why: s.Reason}
		if s.State == home.Waiting {
			m.Due = s.Due
		}
		w.Moments = append(w.Moments, m)
	}
	return nil
}
