package detect

import (
	"cmp"
	"math"
	"slices"

	"weighbeam/detect/stat"
	"weighbeam/home"
)

// Weighed is what the cats of a house weighed, by day and scale, on the last days
// that a [Drift] looks at. A day is handed in once it is over, and again where it
// is changed, so that a look costs the same however often the cats are weighed.
type Weighed struct {
	cats []*weighedCat // by name
	buf  []float64
}

// weighedCat is what one cat weighed.
type weighedCat struct {
	name   string
	scales []*weighedOn
}

// weighedOn is what a cat weighed on one scale, by day modulo WeighedDays.
type weighedOn struct {
	scale   string
	last    int // newest day with a weighing
	days    [WeighedDays]weighedDay
	against [WeighedDays]residual
}

// weighedDay is what a cat weighed on one scale on a day, in 100 ln kg so that a
// difference is in percent.
type weighedDay struct {
	day    int
	all    []float64
	median float64
}

// residual is how much more the cat weighed on this scale than on others near a
// day; ok is false where there is too little to compare.
type residual struct {
	day    int
	worked bool // it is worked out
	ok     bool
	v      float64
}

// WeighedDays is for how many days a [Weighed] keeps what was weighed.
const WeighedDays = driftNow + driftBefore + driftNear + 2

// slot is where a day is kept.
func slot(day int) int { return ((day % WeighedDays) + WeighedDays) % WeighedDays }

// nextSlot is where the day after that of a slot is kept: days are mostly looked at one
// after another, and to divide for each would be dear.
func nextSlot(slot int) int {
	if slot++; slot == WeighedDays {
		return 0
	}
	return slot
}

// Set says what a cat weighed on a UTC day, counted from 1970, on all scales: it
// takes the place of what was said of that day before.
func (w *Weighed) Set(cat string, day int, weighings []home.Weighing) {
	c := w.cat(cat)
	for _, on := range c.scales {
		if d := &on.days[slot(day)]; d.day <= day {
			d.day, d.all = day, d.all[:0]
		}
		for k := day - driftNear; k <= day+driftNear; k++ {
			on.against[slot(k)].worked = false
		}
	}
	for i := range weighings {
		m := &weighings[i]
		if m.Kg <= 0 || m.Confidence < surelyNamed || m.Source == home.Hand {
			continue // a difference on a floor scale is too rough to compare with
		}
		on := c.on(m.Source)
		d := &on.days[slot(day)]
		if d.day > day {
			continue // so old that the place is taken
		}
		if d.day != day {
			d.day, d.all = day, d.all[:0]
		}
		d.all, on.last = append(d.all, 100*math.Log(m.Kg)), max(on.last, day)
	}
	for _, on := range c.scales {
		if d := &on.days[slot(day)]; d.day == day {
			w.buf = append(w.buf[:0], d.all...)
			d.median = stat.Middle(w.buf)
		}
	}
}

// Keep forgets all cats but these.
func (w *Weighed) Keep(cats []string) {
	w.cats = slices.DeleteFunc(w.cats, func(c *weighedCat) bool { return !slices.Contains(cats, c.name) })
}

func (w *Weighed) cat(name string) *weighedCat {
	i, known := slices.BinarySearchFunc(w.cats, name, func(c *weighedCat, n string) int { return cmp.Compare(c.name, n) })
	if !known {
		w.cats = slices.Insert(w.cats, i, &weighedCat{name: name})
	}
	return w.cats[i]
}

// on is what the cat weighed on a scale.
func (c *weighedCat) on(scale string) *weighedOn {
	if i := slices.IndexFunc(c.scales, func(on *weighedOn) bool { return on.scale == scale }); i >= 0 {
		return c.scales[i]
	}
	on := &weighedOn{scale: scale, last: math.MinInt}
	for i := range on.days {
		on.days[i].day = math.MinInt
	}
	c.scales = append(c.scales, on)
	return on
}

// used is what the cat weighed on a scale, nil where that is long ago.
func (c *weighedCat) used(scale string, today int) *weighedOn {
	for _, on := range c.scales {
		if on.scale == scale && on.last > today-WeighedDays {
			return on
		}
	}
	return nil
}

// at is what was weighed on a day, kept at slot; nothing where it is not.
func (on *weighedOn) at(day, slot int) (all []float64, median float64) {
	if d := &on.days[slot]; d.day == day {
		return d.all, d.median
	}
	return nil, 0
}

// alone is what the cat weighed on this scale on a day.
func (w *Weighed) alone(_ *weighedCat, on *weighedOn, day, slot int) (float64, bool) {
	all, median := on.at(day, slot)
	return median, len(all) > 0
}

// against is how much more the cat weighed on this scale than on others near a day.
func (w *Weighed) against(c *weighedCat, on *weighedOn, day, at int) (float64, bool) {
	r := &on.against[at]
	if r.worked && r.day == day {
		return r.v, r.ok
	}
	*r = residual{day: day, worked: true}
	here, median := on.at(day, at)
	if len(here) == 0 || len(c.scales) == 1 {
		return 0, false
	}
	w.buf = w.buf[:0]
	for _, other := range c.scales {
		if other == on {
			continue
		}
		for k, at := day-driftNear, slot(day-driftNear); k <= day+driftNear; k, at = k+1, nextSlot(at) {
			there, _ := other.at(k, at)
			w.buf = append(w.buf, there...)
		}
	}
	if len(w.buf) >= 2 {
		r.v, r.ok = median-stat.Middle(w.buf), true
	}
	return r.v, r.ok
}
