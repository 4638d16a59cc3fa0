package watch

import (
	"cmp"
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// House steps the monitors of a household. It is pure: what is known and what
// time it is are handed in, what turned comes out.
//
// Observations may come late. What is dated before the point already reached
// makes the cat's monitor anew from its whole history; the outcome is compared
// with what was told, and only the difference turns, dated at the point reached:
// later knowledge never changes when something was told.
type House struct {
	opt     detect.Options
	members map[string]*member
	order   []string // ids, in the order of the household
	reached time.Time
	prompt  time.Time // newest observation that does not wait
}

// Lag is how far watching stays behind the clock, so that the visits of several
// scales, which are understood and named some minutes after they end, come in
// time order. What a person enters does not wait.
const Lag = 15 * time.Minute

// NewHouse returns a House without cats.
func NewHouse(opt detect.Options) *House {
	return &House{opt: opt, members: map[string]*member{}}
}

// SetCats says who lives in the house. A cat whose description changed is
// judged anew; findings of one that left are closed at the next Advance.
func (h *House) SetCats(cats []home.Cat) {
	h.order = h.order[:0]
	stay := map[string]bool{}
	for _, c := range cats {
		h.order = append(h.order, c.ID)
		stay[c.ID] = true
		m := h.members[c.ID]
		if m == nil {
			h.members[c.ID] = newMember(c, h.opt)
			continue
		}
		m.left = false
		if m.who != c {
			m.who, m.stale = c, true
		}
	}
	for id, m := range h.members {
		if !stay[id] {
			m.left = true
		}
	}
}

// Restore says how far watching had come before, and which findings were open
// then. The next Advance first makes the same point again and tells only what
// differs.
func (h *House) Restore(reached time.Time, open []home.Finding) {
	h.reached = reached
	for _, f := range open {
		if m := h.members[f.Cat]; m != nil {
			m.told[f.Sign] = f
		}
	}
	for _, m := range h.members {
		m.stale = true
	}
}

// Sync says that what is known of cat from from to before to is now obs, in any
// order. Observations outside that range are not touched.
func (h *House) Sync(cat string, from, to time.Time, obs []detect.Observation) {
	m := h.members[cat]
	if m == nil {
		return
	}
	slices.SortStableFunc(obs, func(a, b detect.Observation) int { return a.Time().Compare(b.Time()) })
	for _, o := range obs {
		if o.Weighing == nil && o.Time().After(h.prompt) {
			h.prompt = o.Time()
		}
	}
	m.sync(from, to, obs)
}

// Advance lets time pass and returns what turned, in time order. now is the time
// on the clock; the house is watched up to [Lag] before it, or up to what a
// person entered since then.
func (h *House) Advance(now time.Time) []home.Transition {
	until := now.Add(-Lag)
	if h.prompt.After(until) && !h.prompt.After(now) {
		until = h.prompt
	}
	return h.watch(until)
}

// watch steps everything up to now.
func (h *House) watch(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, m := range h.inOrder() {
		turned = append(turned, m.advance(h.reached, now)...)
	}
	if now.After(h.reached) {
		h.reached = now
	}
	slices.SortStableFunc(turned, func(a, b home.Transition) int { return a.At.Compare(b.At) })
	return turned
}

// inOrder lists the members: those of the household, then those who left.
func (h *House) inOrder() []*member {
	var all []*member
	for _, id := range h.order {
		all = append(all, h.members[id])
	}
	var left []*member
	for _, m := range h.members {
		if m.left {
			left = append(left, m)
		}
	}
	slices.SortFunc(left, func(a, b *member) int { return cmp.Compare(a.who.ID, b.who.ID) })
	return append(all, left...)
}

// Reached is the time up to which the house was watched.
func (h *House) Reached() time.Time { return h.reached }

// Outlook is what is known of a cat at the time reached; false for an unknown cat.
func (h *House) Outlook(cat string) (home.Outlook, bool) {
	m := h.members[cat]
	if m == nil {
		return home.Outlook{}, false
	}
	return m.monitor.Outlook(h.reached), true
}

// Trend is the smoothed weight of a cat, for charts.
func (h *House) Trend(cat string) []home.TrendPoint {
	m := h.members[cat]
	if m == nil {
		return nil
	}
	return m.monitor.Trend()
}
