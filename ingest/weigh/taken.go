package weigh

import (
	"maps"
	"time"

	"weighbeam/home"
)

// taken is which readings, of what is not load, were taken in lately: since visits
// were named last, or dated after what was named. Older ones are forgotten, but
// not one by one.
type taken struct {
	round    int                // how often visits were named
	in       map[readingKey]int // the round in which it was taken in
	released int64              // what is older was named, us
	left     int                // how many there were when the old ones were last swept out
}

// readingKey is what makes a reading the same reading.
type readingKey struct {
	source, cat string
	quantity    home.Quantity
	at          int64
	seq         int64
}

func newTaken() taken { return taken{in: map[readingKey]int{}} }

// again reports whether r was taken in lately; it is then.
func (t *taken) again(r home.Reading) bool {
	k := readingKey{r.Source, r.Cat, r.Quantity, r.Time.UnixMicro(), r.Seq}
	round, known := t.in[k]
	if known && (k.at >= t.released || round == t.round) {
		return true
	}
	t.in[k] = t.round
	return false
}

// sweepFrom is from how many on it is worth to look for old ones.
const sweepFrom = 64

// release says that what is from before until was named.
func (t *taken) release(until time.Time) {
	t.round, t.released = t.round+1, until.UnixMicro()
	if len(t.in) < sweepFrom+2*t.left {
		return
	}
	maps.DeleteFunc(t.in, func(k readingKey, _ int) bool { return k.at < t.released })
	t.left = len(t.in)
}
