package visit_test

import (
	"fmt"
	"math"
	"slices"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

// figures are how well some days of a house were understood.
type figures struct {
	visits, found, reported, untrue int
	mass, left                      []float64 // g, size of the error
	sure                            []float64 // error of a mass in its own stated uncertainty
}

// score compares what was reported with what happened. A visit is found if a
// reported one covers 40 % of it; a reported one that no visit claims is untrue,
// be it a look, two at once, hands, or the same visit told twice.
func (f *figures) score(all []truth, got []home.Visit) {
	used := make([]bool, len(got))
	for _, tr := range all {
		if tr.kind != "visit" {
			continue
		}
		f.visits++
		best, most := -1, 0.4*(tr.end-tr.start)
		for i, v := range got {
			if o := overlap(tr, v); v.Event == home.CatVisit && !used[i] && o > most {
				best, most = i, o
			}
		}
		if best < 0 {
			continue
		}
		used[best] = true
		f.found++
		off := got[best].MassKg*1000 - tr.mass
		f.mass = append(f.mass, math.Abs(off))
		f.sure = append(f.sure, math.Abs(off)/(got[best].SDKg*1000))
		if got[best].HasLeft {
			f.left = append(f.left, math.Abs(got[best].LeftG-tr.left))
		}
	}
	for i, v := range got {
		if v.Event == home.CatVisit {
			f.reported++
			if !used[i] && !shared(all, v) {
				f.untrue++
			}
		}
	}
}

// shared reports whether v is one of two cats that were there at once, rightly
// weighed. They need not be found.
func shared(all []truth, v home.Visit) bool {
	for _, tr := range all {
		if tr.kind == "shared" && overlap(tr, v) > 0.4*(tr.end-tr.start) && math.Abs(v.MassKg*1000-tr.mass) < 0.03*tr.mass {
			return true
		}
	}
	return false
}

func overlap(tr truth, v home.Visit) float64 {
	s := float64(v.Start.UnixMicro())/1e6 - epoch
	e := float64(v.End.UnixMicro())/1e6 - epoch
	return math.Min(e, tr.end) - math.Max(s, tr.start)
}

func (f *figures) foundShare() float64 { return float64(f.found) / float64(max(f.visits, 1)) }
func (f *figures) trueShare() float64  { return 1 - float64(f.untrue)/float64(max(f.reported, 1)) }

func (f *figures) line(name string) string {
	return fmt.Sprintf("%-28s %6d  %.3f %.3f  %6.1f %6.1f  %5.1f %5.1f  %.2f\n", name, f.visits, f.foundShare(), f.trueShare(),
		quantile(f.mass, .5), quantile(f.mass, .95), quantile(f.left, .5), quantile(f.left, .95), quantile(f.sure, .9))
}

func quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = slices.Sorted(slices.Values(v))
	return v[int(p*float64(len(v)-1))]
}

// scene is a house with one kind of scale, to be played for some days.
type scene struct {
	cell cell
	cats []animal
	how  temper
	days int
}

// play lets the days of a seed happen and hands each value sent to sink.
func (s scene) play(seed uint64, sink func(at, g float64)) *house {
	r := newRand(seed)
	h := newHouse(r, s.cats, s.days, s.how, 6000)
	c := s.cell
	c.r, c.send = r, sink
	c.run(h.events, 6000, h.days*86400)
	return h
}

// track scores the tracker on the days of a seed.
func (s scene) track(seed uint64, into ...*figures) {
	tr := visit.New(home.LitterBox)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	h := s.play(seed, func(at, g float64) { tr.Step(stamp(at), g/1000, emit) })
	tr.Tick(stamp(h.days*86400+7200), emit)
	for _, f := range into {
		f.score(h.truth, got)
	}
}

// measure scores the yardstick on the same.
func (s scene) measure(seed uint64, into ...*figures) {
	var got []home.Visit
	y := yardstick{emit: func(v home.Visit) { got = append(got, v) }}
	h := s.play(seed, y.step)
	for _, f := range into {
		f.score(h.truth, got)
	}
}
