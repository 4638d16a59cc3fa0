package weigh

import (
	"slices"
	"sort"
	"time"

	"weighbeam/home"
)

// taken is which readings, of what is not load, were taken in lately: since visits
// were named last, or dated after what was named.
type taken []readingKey // in time order

// readingKey is what makes a reading the same reading.
type readingKey struct {
	at          int64
	seq         int64
	source, cat string
	quantity    home.Quantity
}

// again reports whether r was taken in lately; it is then.
func (t *taken) again(r home.Reading) bool {
	k := readingKey{r.Time.UnixMicro(), r.Seq, r.Source, r.Cat, r.Quantity}
	i := t.from(k.at)
	for same := i; same < len(*t) && (*t)[same].at == k.at; same++ {
		if (*t)[same] == k {
			return true
		}
	}
	*t = slices.Insert(*t, i, k)
	return false
}

// release forgets what is from before until, which was named.
func (t *taken) release(until time.Time) { *t = slices.Delete(*t, 0, t.from(until.UnixMicro())) }

// from is where what is from at or later begins.
func (t taken) from(at int64) int {
	return sort.Search(len(t), func(i int) bool { return t[i].at >= at })
}
