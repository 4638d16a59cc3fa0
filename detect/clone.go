package detect

import (
	"maps"
	"slices"
)

// Clone returns a monitor that knows what m knows and goes its own way from here on:
// what is seen late can then be stepped again from where m stands, not from the start.
//
// Findings, plans and cares that stand are never changed, only replaced: they are
// shared. A test looks that nothing else is.
func (m *Monitor) Clone() *Monitor {
	c := *m
	c.care = &cares{all: slices.Clone(m.care.all)}
	c.weights = m.weights.clone(c.care)
	c.signs, c.ticking = make([]sign, len(m.signs)), nil
	for i, s := range m.signs {
		c.signs[i] = s.clone(c.weights, c.care)
		if t, ok := c.signs[i].(ticking); ok {
			c.ticking = append(c.ticking, t)
		}
	}
	c.weighed, c.which, c.incidents = slices.Clone(m.weighed), slices.Clone(m.which), slices.Clone(m.incidents)
	return &c
}

func (w *weights) clone(care *cares) *weights {
	c := *w
	c.care = care
	c.sources, c.bin = slices.Clone(w.sources), slices.Clone(w.bin)
	c.ramps, c.bank = w.ramps.Clone(), w.bank.Clone()
	c.learned, c.past = slices.Clone(w.learned), slices.Clone(w.past)
	c.strayed, c.early, c.earlyWorth = slices.Clone(w.strayed), slices.Clone(w.early), slices.Clone(w.earlyWorth)
	return &c
}

func (f *falling) clone(w *weights, _ *cares) sign {
	c := *f
	c.w, c.open = w, f.open.clone()
	return &c
}

func (r *rising) clone(w *weights, _ *cares) sign {
	c := *r
	c.w, c.open = w, r.open.clone()
	return &c
}

func (f *fall) clone() *fall {
	if f == nil {
		return nil
	}
	c := *f
	return &c
}

func (l *low) clone(w *weights, _ *cares) sign {
	c := *l
	c.w = w
	return &c
}

func (p *planTooFast) clone(w *weights, _ *cares) sign {
	c := *p
	c.w = w
	return &c
}

func (p *planOff) clone(w *weights, _ *cares) sign {
	c := *p
	c.w = w
	return &c
}

func (b *breathingRising) clone(*weights, *cares) sign {
	c := *b
	c.asleep.breathing, c.rest.breathing = b.asleep.breathing.clone(), b.rest.breathing.clone()
	return &c
}

func (b *breathing) clone() *breathing {
	c := *b
	c.sitting, c.past = slices.Clone(b.sitting), slices.Clone(b.past)
	return &c
}

func (b *breathingHigh) clone(*weights, *cares) sign {
	c := *b
	c.asleep.counts, c.rest.counts = slices.Clone(b.asleep.counts), slices.Clone(b.rest.counts)
	return &c
}

func (r *redFlag) clone(*weights, *cares) sign {
	c := *r
	return &c
}

func (n *notSeen) clone(_ *weights, care *cares) sign {
	c := *n
	c.care, c.device = care, n.device.clone()
	return &c
}

func (p pauses) clone() pauses {
	p.kept = slices.Clone(p.kept)
	return p
}

func (h *heart) clone(*weights, *cares) sign {
	c := *h
	c.recent = slices.Clone(h.recent)
	return &c
}

func (t *temperature) clone(*weights, *cares) sign {
	c := *t
	return &c
}

func (n *notEating) clone(_ *weights, care *cares) sign {
	c := *n
	c.care, c.daily, c.pauses = care, n.daily.clone(), slices.Clone(n.pauses)
	return &c
}

func (d daily) clone() daily {
	d.values = slices.Clone(d.values)
	return d
}

func (e *eatingLess) clone(w *weights, care *cares) sign {
	return &eatingLess{amount: e.amount.copied(w, care)}
}

func (m *amount) clone(w *weights, care *cares) sign {
	c := m.copied(w, care)
	return &c
}

func (m *amount) copied(w *weights, care *cares) amount {
	c := *m
	c.care, c.daily = care, m.daily.clone()
	if m.names != nil {
		c.names = w
	}
	if m.body != nil {
		c.body = w
	}
	return c
}

func (f *frequentVisits) clone(*weights, *cares) sign {
	c := *f
	c.recent = slices.Clone(f.recent)
	return &c
}

func (n *noLitterVisit) clone(_ *weights, care *cares) sign {
	c := *n
	c.care, c.box = care, n.box.clone()
	return &c
}

func (s *scores) clone(*weights, *cares) sign {
	c := *s
	c.seen = slices.Clone(s.seen)
	return &c
}

func (p *painScore) clone(*weights, *cares) sign {
	c := *p
	return &c
}

func (l *lumps) clone(*weights, *cares) sign {
	c := *l
	c.known = maps.Clone(l.known)
	for id, seen := range c.known {
		c.known[id] = slices.Clone(seen)
	}
	return &c
}

func (d *overdue) clone(_ *weights, care *cares) sign {
	c := *d
	c.care = care
	return &c
}
