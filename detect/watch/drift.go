package watch

import (
	"math"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// drifts looks once a day, at midnight UTC, whether a scale drifts.
type drifts struct {
	perScale[*detect.Drift]
	weighed detect.Weighed
}

func newDrifts() drifts {
	return drifts{perScale: perScale[*detect.Drift]{sign: home.ScaleDrifting, anew: detect.NewDrift}}
}

const oneDay = 24 * time.Hour

// drift looks at each midnight after reached, up to now.
func (h *House) drift(now time.Time) []home.Transition {
	turned := h.drifts.leave(now)
	if now.Before(h.midnight) {
		return turned
	}
	next := h.reached.Truncate(oneDay).Add(oneDay)
	if h.reached.IsZero() {
		first, ok := h.firstWeighed()
		if !ok {
			return turned
		}
		next = first.Truncate(oneDay).Add(oneDay)
	}
	for ; !next.After(now); next = next.Add(oneDay) {
		h.weighedBefore(next)
		for _, id := range h.drifts.ids {
			turned = append(turned, h.drifts.of[id].Look(next, &h.drifts.weighed)...)
		}
	}
	return turned
}

// weighedBefore hands in the days before a midnight that are over since the last
// look, or that changed since then.
func (h *House) weighedBefore(midnight time.Time) {
	today := dayOf(midnight)
	var cats []string
	for _, id := range h.order {
		m := h.members[id]
		if m.seen.scale {
			continue
		}
		cats = append(cats, id)
		for day := max(m.handed, today-detect.WeighedDays+1); day < today; day++ {
			h.drifts.weighed.Set(id, day, m.weighedOn(day))
		}
		m.handed = max(m.handed, today)
	}
	h.drifts.weighed.Keep(cats)
}

// weighedOn is what the cat weighed on a day.
func (m *member) weighedOn(day int) []home.Weighing {
	from := time.Unix(int64(day)*86400, 0).UTC()
	m.day = m.day[:0]
	for i := m.seen.from(from); i < m.seen.len() && m.seen.time(i).Before(from.Add(oneDay)); i++ {
		if w, ok := m.seen.weighed(i); ok {
			m.day = append(m.day, w)
		}
	}
	return m.day
}

// dayOf is the UTC day that t falls in, counted from 1970.
func dayOf(t time.Time) int { return int(math.Floor(float64(t.Unix()) / 86400)) }

// firstWeighed is when the first cat was weighed.
func (h *House) firstWeighed() (first time.Time, ok bool) {
	for _, m := range h.members {
		for i := range m.seen.all {
			if w, is := m.seen.weighed(i); is {
				if !ok || w.Time.Before(first) {
					first, ok = w.Time, true
				}
				break
			}
		}
	}
	return first, ok
}
