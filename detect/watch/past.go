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
	all     []seen
	minutes []int32 // since 1970, of a scale
}

// seen is an observation of a cat. Most are weighings, and of those there are many
// years: they are kept without room for all that they are not.
type seen struct {
	weighing *home.Weighing
	box      bool
	other    *detect.Observation // nil for a weighing
}

func seenOf(o detect.Observation) seen {
	if o.Weighing != nil {
		return seen{weighing: o.Weighing, box: o.Box}
	}
	other := o // a copy of its own, so that a weighing takes no memory for one
	return seen{other: &other}
}

func (s seen) observation() detect.Observation {
	if s.weighing != nil {
		return detect.Observation{Weighing: s.weighing, Box: s.box}
	}
	return *s.other
}

func (s seen) time() time.Time {
	if s.weighing != nil {
		return s.weighing.Time
	}
	return s.other.Time()
}

func (p *past) len() int {
	if p.scale {
		return len(p.minutes)
	}
	return len(p.all)
}

func (p *past) at(i int) detect.Observation {
	if p.scale {
		return detect.Observation{Heard: p.time(i)}
	}
	return p.all[i].observation()
}

func (p *past) time(i int) time.Time {
	if p.scale {
		return time.Unix(60*int64(p.minutes[i]), 0).UTC()
	}
	return p.all[i].time()
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
			all[i] = seenOf(o)
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
	p.all = slices.Insert(p.all, i, seenOf(o))
}

// between is what was seen from lo to before hi.
func (p *past) between(lo, hi int) []detect.Observation {
	obs := make([]detect.Observation, 0, hi-lo)
	for i := lo; i < hi; i++ {
		obs = append(obs, p.at(i))
	}
	return obs
}

// forget drops the first n.
func (p *past) forget(n int) {
	p.all, p.minutes = slices.Clone(p.all[min(n, len(p.all)):]), slices.Clone(p.minutes[min(n, len(p.minutes)):])
}
