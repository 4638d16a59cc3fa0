package watch

import (
	"slices"
	"sort"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// past is what was seen of one subject, in time order. Of a scale that is the minutes
// in which it spoke: two months of them are so many that they are kept as numbers.
type past struct {
	scale   bool
	cat     string
	all     []seen
	sources []string // of the weighings
	minutes []int32  // since 1970, of a scale
}

// seen is an observation of a cat. Most are weighings, and of those there are many
// years: they are kept in place, and without what is the same in many.
type seen struct {
	at                 int64 // us
	kg, sd, confidence float64
	source             int32
	unclear, box       bool
	other              *detect.Observation // anything but a weighing, or one that the above cannot hold; nil for none
}

// keep is o as it is kept.
func (p *past) keep(o detect.Observation) seen {
	if w := o.Weighing; w != nil {
		s := seen{w.Time.UnixMicro(), w.Kg, w.SDKg, w.Confidence, p.source(w.Source), w.Unclear, o.Box, nil}
		if p.weighing(&s) == *w {
			return s
		}
	}
	return seen{other: copied(o)}
}

// copied is o with nothing of it shared that may be used again.
func copied(o detect.Observation) *detect.Observation {
	if o.Weighing != nil {
		w := *o.Weighing
		o.Weighing = &w
	}
	return &o
}

// source is the index of a source, which is a new one where it is not known.
func (p *past) source(name string) int32 {
	i := slices.Index(p.sources, name)
	if i < 0 {
		i = len(p.sources)
		p.sources = append(p.sources, name)
	}
	return int32(i)
}

// weighing is the weighing that was kept as s.
func (p *past) weighing(s *seen) home.Weighing {
	return home.Weighing{Cat: p.cat, Time: time.UnixMicro(s.at).UTC(), Kg: s.kg, SDKg: s.sd,
		Source: p.sources[s.source], Confidence: s.confidence, Unclear: s.unclear}
}

// weighed is the i-th, if that is a weighing.
func (p *past) weighed(i int) (home.Weighing, bool) {
	s := &p.all[i]
	switch {
	case s.other == nil:
		return p.weighing(s), true
	case s.other.Weighing != nil:
		return *s.other.Weighing, true
	}
	return home.Weighing{}, false
}

func (p *past) len() int {
	if p.scale {
		return len(p.minutes)
	}
	return len(p.all)
}

// at is the i-th; of a weighing it is good until w is used again.
func (p *past) at(i int, w *home.Weighing) detect.Observation {
	if p.scale {
		return detect.Observation{Heard: p.time(i)}
	}
	s := &p.all[i]
	if s.other != nil {
		return *s.other
	}
	*w = p.weighing(s)
	return detect.Observation{Weighing: w, Box: s.box}
}

func (p *past) time(i int) time.Time {
	if p.scale {
		return time.Unix(60*int64(p.minutes[i]), 0).UTC()
	}
	if s := &p.all[i]; s.other != nil {
		return s.other.Time()
	}
	return time.UnixMicro(p.all[i].at).UTC()
}

// from is where what was seen at t or later begins. Mostly that is near the end, so it is
// looked for from there, in ever longer strides.
func (p *past) from(t time.Time) int {
	lo, hi := p.len(), p.len()
	for stride := 1; lo > 0 && !p.time(lo-1).Before(t); stride *= 2 {
		hi = lo - 1
		lo = max(0, lo-stride)
	}
	return lo + sort.Search(hi-lo, func(i int) bool { return !p.time(lo + i).Before(t) })
}

// replace puts obs in the place of lo to before hi.
func (p *past) replace(lo, hi int, obs []detect.Observation) {
	if !p.scale {
		all := make([]seen, len(obs))
		for i, o := range obs {
			all[i] = p.keep(o)
		}
		p.all = slices.Replace(p.all, lo, hi, all...)
		return
	}
	minutes := make([]int32, len(obs))
	for i, o := range obs {
		minutes[i] = int32(o.Heard.Unix() / 60)
	}
	p.minutes = slices.Replace(p.minutes, lo, hi, minutes...)
}

// insert puts o in the place i.
func (p *past) insert(i int, o detect.Observation) {
	if p.scale {
		p.minutes = slices.Insert(p.minutes, i, int32(o.Heard.Unix()/60))
		return
	}
	if len(p.all) == cap(p.all) {
		p.all = slices.Grow(p.all, len(p.all)+1) // twice as long: years come one by one
	}
	kept := p.keep(o)
	p.all = append(p.all, kept)
	if i < len(p.all)-1 { // mostly it is the newest
		copy(p.all[i+1:], p.all[i:])
		p.all[i] = kept
	}
}

// between is what was seen from lo to before hi.
func (p *past) between(lo, hi int) []detect.Observation {
	obs, weighings := make([]detect.Observation, hi-lo), make([]home.Weighing, hi-lo)
	for i := range obs {
		obs[i] = p.at(lo+i, &weighings[i])
	}
	return obs
}

// forget drops the first n.
func (p *past) forget(n int) {
	p.all, p.minutes = slices.Clone(p.all[min(n, len(p.all)):]), slices.Clone(p.minutes[min(n, len(p.minutes)):])
}
