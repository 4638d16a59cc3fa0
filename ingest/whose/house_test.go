package whose

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"weighbeam/home"
)

// A made-up house: cats with weights that move, who visit scales. Its
// arithmetic is its own: sums of sines and lines, no state space.

var epoch = time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC)

// resident is a cat of the made-up house, or a guest.
type resident struct {
	id      string
	grams   func(day float64) float64
	perDay  func(day float64) float64 // visits a day
	scatter float64                   // sd of a visit about the level, g
	slow    float64                   // part of the scatter's variance that lasts half a day
	boxes   []float64                 // how likely each box is
	hours   []float64                 // favoured hours; empty: any
	nobody  bool                      // does not live here
}

type stay struct {
	visit home.Visit
	truth string // "" for a guest
}

type errs struct{ median, share, wide float64 } // of a visit's mass, g

type world struct {
	cats  []resident
	boxes int
	days  float64
	mass  errs
	start map[string]float64 // WeightKg in the household
}

func (w world) household() home.Household {
	var h home.Household
	for _, c := range w.cats {
		if !c.nobody {
			h.Cats = append(h.Cats, home.Cat{ID: c.id, Name: c.id, WeightKg: w.start[c.id]})
		}
	}
	for b := range w.boxes {
		h.Scales = append(h.Scales, home.Scale{ID: fmt.Sprintf("box-%d", b+1), Kind: home.LitterBox})
	}
	return h
}

// live draws the visits of the house in time order.
func (w world) live(r *rand.Rand) []stay {
	var all []stay
	for _, c := range w.cats {
		all = append(all, w.liveOne(c, r)...)
	}
	slices.SortFunc(all, func(a, b stay) int { return a.visit.Start.Compare(b.visit.Start) })
	for i := 1; i < len(all); i++ { // no two at the same instant
		if !all[i].visit.Start.After(all[i-1].visit.Start) {
			all[i].visit.Start = all[i-1].visit.Start.Add(time.Second)
			all[i].visit.End = all[i].visit.Start.Add(40 * time.Second)
		}
	}
	return all
}

func (w world) liveOne(c resident, r *rand.Rand) []stay {
	var out []stay
	phase := [4]float64{}
	for i := range phase {
		phase[i] = r.Float64() * 2 * math.Pi
	}
	for day := 0.0; day < w.days; day++ {
		for range poisson(c.perDay(day), r) {
			t := day + hour(c.hours, r)/24
			// Four sines with periods near half a day to two days stand for meals and drinks.
			slow := 0.0
			for i, per := range [4]float64{0.55, 0.83, 1.31, 2.1} {
				slow += math.Sin(2*math.Pi*t/per + phase[i])
			}
			g := c.grams(t) + c.scatter*(math.Sqrt(c.slow)*slow/math.Sqrt2+math.Sqrt(1-c.slow)*r.NormFloat64())
			out = append(out, w.weigh(c, t, g, r))
		}
	}
	return out
}

func (w world) weigh(c resident, t, grams float64, r *rand.Rand) stay {
	sd := w.mass.median / 0.6745
	if r.Float64() < w.mass.share {
		sd = w.mass.wide
	}
	at := epoch.Add(time.Duration(t * 24 * float64(time.Hour))).Truncate(time.Second)
	v := home.Visit{
		Source: fmt.Sprintf("box-%d", 1+pick(c.boxes, r)), Start: at, End: at.Add(time.Duration(20+r.IntN(120)) * time.Second),
		Event: home.CatVisit, MassKg: (grams + sd*r.NormFloat64()) / 1000,
		SDKg: sd / 1000 * math.Exp(0.3*r.NormFloat64()), Quality: 1,
	}
	if c.nobody {
		return stay{v, ""}
	}
	return stay{v, c.id}
}

func hour(favoured []float64, r *rand.Rand) float64 {
	if len(favoured) == 0 || r.Float64() < 0.3 {
		return 24 * r.Float64()
	}
	h := favoured[r.IntN(len(favoured))] + 1.5*r.NormFloat64()
	return math.Mod(h+48, 24)
}

func pick(p []float64, r *rand.Rand) int {
	u, total := r.Float64(), 0.0
	for _, v := range p {
		total += v
	}
	u *= total
	for i, v := range p {
		if u -= v; u < 0 {
			return i
		}
	}
	return len(p) - 1
}

func poisson(mean float64, r *rand.Rand) int {
	limit, n := math.Exp(-mean), 0
	for p := r.Float64(); p > limit; p *= r.Float64() {
		n++
	}
	return n
}

// wavy is a steady weight with the slow swings of a healthy year.
func wavy(grams, swing float64, r *rand.Rand) func(float64) float64 {
	a, b := r.Float64()*6, r.Float64()*6
	return func(d float64) float64 {
		return grams + swing*(0.7*math.Sin(d/37+a)+0.3*math.Sin(d/11+b))
	}
}

func always(perDay float64) func(float64) float64 { return func(float64) float64 { return perDay } }

func boxes(n int, r *rand.Rand) []float64 {
	p := make([]float64, n)
	for i := range p {
		p[i] = math.Pow(r.Float64(), 1.5) + 0.05
	}
	return p
}

// plain: three cats, two of them 330 g apart, 60 days.
func plain(r *rand.Rand) world {
	w := world{boxes: 2, days: 60, mass: errs{3, 0.1, 12}, start: map[string]float64{}}
	low := 3700 + 900*r.Float64()
	for i, g := range []float64{low, low + 330, low + 1300 + 500*r.Float64()} {
		w.add(fmt.Sprintf("cat-%d", i+1), g, 25+20*r.Float64(), wavy(0, 15, r), r)
	}
	return w
}

// add puts a cat of g grams plus what moves into the house; the household says
// its weight to within 1 %.
func (w *world) add(id string, g, scatter float64, moves func(float64) float64, r *rand.Rand) {
	c := resident{
		id: id, grams: func(d float64) float64 { return g + moves(d) },
		perDay: always(2.5 + 2.5*r.Float64()), scatter: scatter, slow: 0.7 * r.Float64(), boxes: boxes(w.boxes, r),
	}
	if r.Float64() < 0.5 {
		c.hours = []float64{24 * r.Float64(), 24 * r.Float64(), 24 * r.Float64()}
	}
	w.cats = append(w.cats, c)
	w.start[id] = math.Round(c.grams(0)*(1+0.008*r.NormFloat64())) / 1000
}

// plainer takes from the cats of w what they prefer: each box and hour is as
// good as another to them.
func (w world) plainer() world {
	for i := range w.cats {
		w.cats[i].hours = nil
		for b := range w.cats[i].boxes {
			w.cats[i].boxes[b] = 1
		}
	}
	return w
}

// hard: five cats, two 170 g apart, one that loses 6.5 g a day across both of
// them in 100 days, and a guest.
func hard(r *rand.Rand) world {
	w := world{boxes: 3, days: 100, mass: errs{4, 0.18, 17}, start: map[string]float64{}}
	low := 3900 + 700*r.Float64()
	scatter := func() float64 { return 25 + 50*r.Float64() }
	w.add("low", low, scatter(), wavy(0, 15, r), r)
	w.add("high", low+170, scatter(), wavy(0, 15, r), r)
	from := low + 85 + 325 + 60*(r.Float64()-0.5)
	w.add("loser", from, scatter(), func(d float64) float64 { return -6.5 * d }, r)
	w.add("big", low+1200+600*r.Float64(), scatter(), wavy(0, 20, r), r)
	w.add("small", low-1000+300*r.Float64(), scatter(), wavy(0, 20, r), r)
	guest := resident{id: "guest", grams: always(low - 900 + 2500*r.Float64()), scatter: 40, boxes: boxes(3, r), nobody: true}
	in, out := 20+50*r.Float64(), 0.0
	out = in + 10 + 20*r.Float64()
	guest.perDay = func(d float64) float64 {
		if d > in && d < out {
			return 1
		}
		return 0.03
	}
	w.cats = append(w.cats, guest)
	return w
}
