package weigh

import (
	"cmp"
	"slices"
	"time"

	"weighbeam/home"
)

// weighed is a weighing of a cat whose name came with it. It is told to the assigner
// when a visit is to be named that came after it: of years of weighings with names there
// may be none, and nothing to be worked out. So they are kept small.
type weighed struct {
	at     int64 // us
	kg, sd float64
	cat    int // of the household
}

// note keeps a weighing until it is told. One of a cat that does not live here says nothing.
func (w *Weigher) note(r home.Reading) {
	cat := slices.IndexFunc(w.house.Cats, func(c home.Cat) bool { return c.ID == r.Cat })
	if cat < 0 {
		return
	}
	if len(w.known) == cap(w.known) {
		w.known = slices.Grow(w.known, len(w.known)+1) // twice as long: years come one by one
	}
	w.known = append(w.known, weighed{r.Time.UnixMicro(), r.Value, r.SD, cat})
}

// weigh tells the assigner of the weighings before until that it was not told of, in time order.
func (w *Weigher) weigh(until time.Time) {
	slices.SortStableFunc(w.known, func(a, b weighed) int { return cmp.Compare(a.at, b.at) })
	n := 0
	for ; n < len(w.known) && w.known[n].at < until.UnixMicro(); n++ {
		k := w.known[n]
		w.who.Weigh(home.Weighing{Cat: w.house.Cats[k.cat].ID, Time: time.UnixMicro(k.at).UTC(), Kg: k.kg, SDKg: k.sd})
	}
	w.known = slices.Delete(w.known, 0, n)
}
