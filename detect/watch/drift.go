package watch

import (
	"slices"
	"sort"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// drifts looks once a day, at midnight UTC, whether a scale drifts. A look is at
// what is known then of all cats; nothing is made again when names are corrected.
type drifts struct {
	scales map[string]*detect.Drift
	left   []*detect.Drift
}

// set says which scales there are.
func (d *drifts) set(scales []home.Scale) {
	old := d.scales
	d.scales = map[string]*detect.Drift{}
	for _, s := range scales {
		if d.scales[s.ID] = old[s.ID]; old[s.ID] == nil {
			d.scales[s.ID] = detect.NewDrift(s.ID)
		}
		delete(old, s.ID)
	}
	for _, gone := range old {
		d.left = append(d.left, gone)
	}
}

// restore makes a finding that was told stand; false for one that is not of this kind.
func (d *drifts) restore(f home.Finding) bool {
	if f.Sign != home.ScaleDrifting {
		return false
	}
	if s := d.scales[f.Source]; s != nil {
		s.Stand(f)
	}
	return true
}

// drift looks at each midnight after reached, up to now.
func (h *House) drift(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, gone := range h.drifts.left {
		turned = append(turned, gone.Leave(now)...)
	}
	h.drifts.left = nil
	next := h.reached.Truncate(24 * time.Hour).Add(24 * time.Hour)
	if h.reached.IsZero() {
		first, ok := h.firstWeighed()
		if !ok {
			return turned
		}
		next = first.Truncate(24 * time.Hour).Add(24 * time.Hour)
	}
	var ids []string
	for id := range h.drifts.scales {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for ; !next.After(now); next = next.Add(24 * time.Hour) {
		weighed := h.weighedBefore(next)
		for _, id := range ids {
			turned = append(turned, h.drifts.scales[id].Look(next, weighed)...)
		}
	}
	return turned
}

// weighedBefore is what all cats weighed in the time that drift is looked for in.
func (h *House) weighedBefore(now time.Time) []home.Weighing {
	var all []home.Weighing
	for _, id := range h.order {
		m := h.members[id]
		if _, cat := m.monitor.(*detect.Monitor); !cat {
			continue
		}
		from := sort.Search(len(m.seen.all), func(i int) bool { return m.seen.time(i).After(now.Add(-detect.DriftBack)) })
		for _, o := range m.seen.all[from:] {
			if o.Time().After(now) {
				break
			}
			if o.Weighing != nil {
				all = append(all, *o.Weighing)
			}
		}
	}
	return all
}

// firstWeighed is when the first cat was weighed.
func (h *House) firstWeighed() (first time.Time, ok bool) {
	for _, m := range h.members {
		for _, o := range m.seen.all {
			if o.Weighing != nil {
				if !ok || o.Time().Before(first) {
					first, ok = o.Time(), true
				}
				break
			}
		}
	}
	return first, ok
}
