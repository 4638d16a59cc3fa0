package watch

import (
	"cmp"
	"math"
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
	opt            detect.Options
	members        map[string]*member
	boxes          map[string]bool // the scales that are litter boxes
	order          []string        // ids, in the order of the household
	all            []*member       // inOrder
	reached        time.Time
	midnight, hour time.Time   // the next after reached; zero before anything is
	prompts        []time.Time // of observations that do not wait, until they are reached
	drifts         drifts
	clocks         perScale[*detect.ClockWatch]
}

// Lag is how far watching stays behind the clock, so that the visits of several
// scales, which are understood and named some minutes after they end, come in
// time order. What a person enters does not wait.
const Lag = 15 * time.Minute

// NewHouse returns an empty House.
func NewHouse(opt detect.Options) *House {
	return &House{opt: opt, members: map[string]*member{}, drifts: newDrifts(), clocks: newClocks()}
}

// SetHousehold says who lives in the house and what weighs them. A cat whose
// description changed is judged anew; findings of a cat or scale that left are
// closed at the next Advance.
func (h *House) SetHousehold(of home.Household) {
	h.order = h.order[:0]
	for _, m := range h.members {
		m.left, m.wake = true, time.Time{}
	}
	for _, c := range of.Cats {
		h.take(newCat(c, h.opt))
	}
	h.boxes = map[string]bool{}
	for _, s := range of.Scales {
		h.boxes[s.ID] = s.Kind == home.LitterBox
		h.take(newScale(s.ID))
	}
	h.drifts.set(of.Scales)
	h.clocks.set(of.Scales)
	h.all = h.inOrder()
}

// take makes m a member, or keeps the one that is there with its history.
func (h *House) take(m *member) {
	h.order = append(h.order, m.id)
	old := h.members[m.id]
	if old == nil {
		h.members[m.id] = m
		return
	}
	old.left, old.handed = false, math.MinInt
	if old.who != m.who {
		old.who, old.anew, old.stale, old.waypoints = m.who, m.anew, true, nil
	}
}

// Restore says how far watching had come before, and which findings were open
// then. The next Advance first makes the same point again and tells only what
// differs. A finding that was raised later than that was raised by a clock that ran
// ahead; one of a cat or scale that left meanwhile is closed.
func (h *House) Restore(reached time.Time, open []home.Finding) {
	h.reached, h.midnight, h.hour = reached, time.Time{}, time.Time{}
	for _, f := range open {
		if f.Updated.After(reached) {
			f.Updated = reached // what is told of it next is not held back until then
		}
		if h.drifts.restore(f) || h.clocks.restore(f) {
			continue
		}
		if _, ok := home.ChannelOf(f); ok {
			continue // not watched here
		}
		m := h.memberOf(f)
		m.told[f.Sign] = f
		if f.Raised.After(reached) && f.Urgency != home.Now {
			m.doubt[f.Sign] = reached.Add(-Doubt) // it closes now, unless it is found again
		}
	}
	h.all = h.inOrder()
	for _, m := range h.members {
		m.stale, m.wake = true, time.Time{}
	}
}

// memberOf is whom f is about, made one that left where the household knows it no more.
func (h *House) memberOf(f home.Finding) *member {
	m := h.members[f.Subject()]
	if m == nil {
		if m = newScale(f.Source); f.Cat != "" {
			m = newCat(home.Cat{ID: f.Cat}, h.opt)
		}
		m.left = true
		h.members[m.id] = m
	}
	return m
}

// Sync says that what is known of a subject, a cat or a scale, from from to before to is now obs, in any
// order. Observations outside that range are not touched.
func (h *House) Sync(subject string, from, to time.Time, obs []detect.Observation) {
	m := h.members[subject]
	if m == nil {
		return
	}
	slices.SortStableFunc(obs, func(a, b detect.Observation) int { return a.Time().Compare(b.Time()) })
	for i, o := range obs {
		obs[i] = h.placed(o)
	}
	m.sync(from, to, h.passed(), obs)
}

// placed is o with what the household says of where it was seen.
func (h *House) placed(o detect.Observation) detect.Observation {
	if (o.Count != nil || o.Check != nil) && o.Time().After(h.reached) {
		h.prompts = append(h.prompts, o.Time())
	}
	o.Box = o.Visit != nil && h.boxes[o.Visit.Source] || o.Weighing != nil && h.boxes[o.Weighing.Source]
	return o
}

// Add says that o was seen, beside what is known: the common case of Sync. A weighing is
// copied, and may be used again.
func (h *House) Add(subject string, o detect.Observation) {
	m := h.members[subject]
	if m == nil {
		return
	}
	m.add(h.placed(o), h.passed())
}

// passed is the last full hour that was watched.
func (h *House) passed() time.Time { return h.hour.Add(-time.Hour) }

// At is what is known of a cat at a time.
func (h *House) At(cat string, at time.Time) []detect.Observation {
	m := h.members[cat]
	if m == nil || m.seen.scale {
		return nil
	}
	lo := m.seen.from(at)
	hi := lo
	for hi < m.seen.len() && m.seen.time(hi).Equal(at) {
		hi++
	}
	return m.seen.between(lo, hi)
}

// Advance lets time pass and returns what turned, in time order. now is the time
// on the clock; the house is watched up to [Lag] before it, or up to what a
// person entered since then. Where now is zero no time passes.
func (h *House) Advance(now time.Time) []home.Transition {
	until := now.Add(-Lag)
	if h.reached.After(until) && (now.IsZero() || !h.reached.After(now)) {
		until = h.reached
	}
	h.prompts = slices.DeleteFunc(h.prompts, func(at time.Time) bool {
		if !at.After(now) && at.After(until) {
			until = at
		}
		return !at.After(now)
	})
	return h.watch(until)
}

// watch steps everything up to now.
func (h *House) watch(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, m := range h.all {
		turned = append(turned, m.advance(h.reached, now)...)
	}
	turned = append(turned, h.drift(now)...)
	turned = append(turned, h.clock(now)...)
	if now.After(h.reached) {
		h.reached = now
	}
	if !now.Before(h.hour) {
		h.midnight, h.hour = h.reached.Truncate(oneDay).Add(oneDay), h.reached.Truncate(time.Hour).Add(time.Hour)
	}
	if len(turned) > 1 {
		slices.SortStableFunc(turned, func(a, b home.Transition) int { return a.At.Compare(b.At) })
	}
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
	slices.SortFunc(left, func(a, b *member) int { return cmp.Compare(a.id, b.id) })
	return append(all, left...)
}

// Reached is the time up to which the house was watched.
func (h *House) Reached() time.Time { return h.reached }

// Outlook is what is known of a cat at the time reached; false for an unknown cat.
func (h *House) Outlook(cat string) (home.Outlook, bool) {
	m, ok := h.cat(cat)
	if !ok {
		return home.Outlook{}, false
	}
	return m.Outlook(h.reached), true
}

// Trend is the smoothed weight of a cat, for charts.
func (h *House) Trend(cat string) []home.TrendPoint {
	m, ok := h.cat(cat)
	if !ok {
		return nil
	}
	return m.Trend()
}

// cat is the monitor of a cat.
func (h *House) cat(id string) (*detect.Monitor, bool) {
	m := h.members[id]
	if m == nil {
		return nil, false
	}
	monitor, ok := m.monitor.(*detect.Monitor)
	return monitor, ok
}
