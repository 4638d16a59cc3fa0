package watch

import (
	"slices"
	"sort"
	"time"

	"weighbeam/detect"
)

// past is what was seen of one subject, in time order. Of a scale that is the minutes
// in which it spoke: two months of them are so many that they are kept as numbers.
type past struct {
	scale   bool
	all     []detect.Observation
	minutes []int32 // since 1970, of a scale
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
	return p.all[i]
}

func (p *past) time(i int) time.Time {
	if p.scale {
		return time.Unix(60*int64(p.minutes[i]), 0).UTC()
	}
	return p.all[i].Time()
}

// from is where what was seen at t or later begins.
func (p *past) from(t time.Time) int {
	return sort.Search(p.len(), func(i int) bool { return !p.time(i).Before(t) })
}

// replace puts obs in the place of lo to before hi.
func (p *past) replace(lo, hi int, obs []detect.Observation) {
	if !p.scale {
		p.all = slices.Replace(p.all, lo, hi, obs...)
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
	p.all = slices.Insert(p.all, i, o)
}

// forget drops the first n.
func (p *past) forget(n int) {
	p.all, p.minutes = slices.Clone(p.all[min(n, len(p.all)):]), slices.Clone(p.minutes[min(n, len(p.minutes)):])
}
