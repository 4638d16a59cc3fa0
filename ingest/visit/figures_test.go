package visit_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/ingest/visit"
)

type figures struct {
	visits, reported, found, untrue int
	mass, left                      []float64
	z                               []float64
	wrong                           map[string]int
}

func (f *figures) score(all []truth, got []home.Visit, verbose bool) {
	if f.wrong == nil {
		f.wrong = map[string]int{}
	}
	used := make([]bool, len(got))
	for _, tr := range all {
		if tr.kind != "visit" {
			continue
		}
		f.visits++
		best, most := -1, 0.0
		for i, v := range got {
			if used[i] || v.Event != home.CatVisit {
				continue
			}
			if o := overlap(tr, v); o > most {
				best, most = i, o
			}
		}
		if best < 0 || most < 0.4*(tr.end-tr.start) {
			what := "missed"
			for _, v := range got {
				if overlap(tr, v) > 0.4*(tr.end-tr.start) {
					what += " as " + string(v.Event) + strings.Join(v.Reasons, ",")
				}
			}
			f.wrong[what]++
			if verbose {
				fmt.Printf("MISS %v-%v %.0f s mass %.0f left %.0f: %s\n", stamp(tr.start).Format("01-02T15:04:05"), stamp(tr.end).Format("15:04:05"), tr.end-tr.start, tr.mass, tr.left, what)
			}
			continue
		}
		used[best] = true
		v := got[best]
		f.found++
		f.mass = append(f.mass, math.Abs(v.MassKg*1000-tr.mass))
		f.z = append(f.z, (v.MassKg*1000-tr.mass)/(v.SDKg*1000))
		if math.Abs(v.MassKg*1000-tr.mass) > 30 && verbose {
			fmt.Printf("OFF %v %.0f s mass %.0f got %.0f sd %.0f left %.0f got %.0f %v\n", stamp(tr.start).Format("01-02T15:04:05"), tr.end-tr.start, tr.mass, v.MassKg*1000, v.SDKg*1000, tr.left, v.LeftG, v.Reasons)
		}
		if v.HasLeft {
			f.left = append(f.left, math.Abs(v.LeftG-tr.left))
		}
	}
	for i, v := range got {
		if v.Event != home.CatVisit {
			continue
		}
		f.reported++
		if !used[i] {
			f.untrue++
			what := "untrue"
			for _, tr := range all {
				if overlap(tr, v) > 0 {
					what += " " + tr.kind
				}
			}
			f.wrong[what]++
			if verbose {
				fmt.Printf("UNTRUE %v-%v mass %.0f left %.0f %s %v\n", v.Start.Format("01-02T15:04:05"), v.End.Format("15:04:05"), v.MassKg*1000, v.LeftG, what, v.Reasons)
			}
		}
	}
}

func overlap(tr truth, v home.Visit) float64 {
	s := float64(v.Start.UnixMicro())/1e6 - epoch
	e := float64(v.End.UnixMicro())/1e6 - epoch
	return math.Min(e, tr.end) - math.Max(s, tr.start)
}

func quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	v = slices.Sorted(slices.Values(v))
	return v[int(p*float64(len(v)-1))]
}

func (f *figures) line(name string) string {
	rms := 0.0
	for _, z := range f.z {
		rms += z * z
	}
	return fmt.Sprintf("%-10s visits %4d found %.3f true %.3f mass %4.1f/%5.1f left %4.1f/%5.1f (n %d) z-rms %.2f z90 %.2f", name, f.visits,
		float64(f.found)/float64(f.visits), 1-float64(f.untrue)/float64(max(f.reported, 1)),
		quantile(f.mass, .5), quantile(f.mass, .95), quantile(f.left, .5), quantile(f.left, .95), len(f.left), math.Sqrt(rms/float64(len(f.z))),
		quantile(abs(f.z), 0.9))
}

func abs(v []float64) []float64 {
	o := make([]float64, len(v))
	for i := range v {
		o[i] = math.Abs(v[i])
	}
	return o
}

func fixed(g float64) func(float64) float64 { return func(float64) float64 { return g } }

var plainCats = []animal{{grams: fixed(3900)}, {grams: fixed(4230)}, {grams: fixed(5600)}}

var hardCats = []animal{
	{grams: fixed(3300)}, {grams: fixed(4100)}, {grams: fixed(4270)}, {grams: fixed(5600)},
	{grams: func(day float64) float64 { return 4650 - 6.5*day }},
}

func plainTemper() temper {
	return temper{visits: 5, looks: 0.5, paws: 0.3, knocks: 0.5, hands: 1, topups: 1}
}

func hardTemper() temper {
	return temper{visits: 6, looks: 1, turns: 0.6, doubles: 0.2, paws: 1, knocks: 1, hands: 1.2, guests: 0.1, lifts: 1, topups: 1.5, lids: 2, restless: 0.3}
}

func plainCell() cell {
	return cell{name: "plain", hz: 5, round: 1, beat: 60, tail: 8, wake: 50, noise: 1.5, thermal: 8, creep: 0.0002}
}

func hardCells() []cell {
	return []cell{
		{name: "hard-5hz", hz: 5, round: 1, beat: 60, tail: 6, wake: 50, noise: 2.5, thermal: 30, creep: 0.0006, spikes: 2e-3, gaps: 0.15},
		{name: "hard-1hz", hz: 1, round: 10, beat: 60, tail: 10, wake: 50, noise: 3, thermal: 30, creep: 0.0006, spikes: 2e-3, gaps: 0.15},
		{name: "hard-band", hz: 10, round: 1, band: 25, beat: 300, noise: 2.5, thermal: 30, creep: 0.0006, spikes: 5e-4, gaps: 0.15},
	}
}

func play(c cell, cats []animal, how temper, days int, seed uint64, sink func(at, g float64)) *house {
	r := rand.New(rand.NewPCG(seed, 77))
	h := newHouse(r, cats, days, how, 6000)
	c.r, c.send = r, sink
	c.run(h.events, 6000, h.days*86400)
	return h
}

func track(c cell, cats []animal, how temper, days int, seed uint64, f *figures, verbose bool) {
	tr := visit.New(home.LitterBox)
	var got []home.Visit
	emit := func(v home.Visit) { got = append(got, v) }
	h := play(c, cats, how, days, seed, func(at, g float64) { tr.Step(stamp(at), g/1000, emit) })
	tr.Tick(stamp(h.days*86400+7200), emit)
	f.score(h.truth, got, verbose)
	if os.Getenv("EVENTS") != "" {
		for _, v := range got {
			fmt.Printf("%s %s %s %.0f sd %.1f left %.1f sd %.1f q %.1f %v\n", v.Event, v.Start.Format("01-02T15:04:05"), v.End.Format("15:04:05"), v.MassKg*1000, v.SDKg*1000, v.LeftG, v.LeftSDG, v.Quality, v.Reasons)
		}
	}
}

func measure(c cell, cats []animal, how temper, days int, seed uint64, f *figures) {
	var got []home.Visit
	y := yardstick{emit: func(v home.Visit) { got = append(got, v) }}
	h := play(c, cats, how, days, seed, y.step)
	f.score(h.truth, got, false)
}

func TestTune(t *testing.T) {
	verbose := os.Getenv("VERBOSE") != ""
	days := 40
	var all, yard figures
	for seed := range uint64(3) {
		track(plainCell(), plainCats, plainTemper(), days, 100+seed, &all, verbose)
		measure(plainCell(), plainCats, plainTemper(), days, 100+seed, &yard)
	}
	fmt.Println(all.line("plain"), all.wrong)
	fmt.Println(yard.line("yardstick"))
	for _, c := range hardCells() {
		var all, yard figures
		for seed := range uint64(3) {
			measure(c, hardCats, hardTemper(), days, 100+seed, &yard)
			track(c, hardCats, hardTemper(), days, 100+seed, &all, verbose && strings.Contains(os.Getenv("VERBOSE"), c.name))
		}
		fmt.Println(all.line(c.name), all.wrong)
		fmt.Println(yard.line("yardstick"), yard.wrong)
	}
}
