package carry

import (
	"cmp"
	"io"
	"math"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// held is what was read of a file, small enough to keep a million rows of it: what
// readings say in words is the same in very many of them, and kept once.
type held struct {
	parts [][]row             // so that none is copied as they grow, and each is let go of once given
	given func()              // is called for each that is; may be nil
	n     int                 // rows
	words []home.Reading      // without times and numbers
	index map[said][]int32    // of words
	bad   []*payload.RowError // of those that could not be used, in order
}

// said is most of what the words of readings differ in.
type said struct{ source, cat, quantity, note string }

// row is a reading but for its words, or one that could not be used.
type row struct {
	at, arrived int64 // us
	seq         int64
	value, sd   float64
	words       int32 // index, or noReading
}

const (
	noReading = -1
	partRows  = 4096
)

func newHeld() *held { return &held{index: map[said][]int32{}} }

func (h *held) add(r home.Reading) {
	kept := row{r.Time.UnixMicro(), r.Arrived.UnixMicro(), r.Seq, r.Value, r.SD, 0}
	r.Time, r.Arrived, r.Seq, r.Value, r.SD = time.Time{}, time.Time{}, 0, 0, 0
	kept.words = h.wordsOf(r)
	h.append(kept)
}

// wordsOf is where the words of a reading are kept.
func (h *held) wordsOf(r home.Reading) int32 {
	k := said{r.Source, r.Cat, string(r.Quantity), r.Note}
	for _, i := range h.index[k] {
		if h.words[i] == r {
			return i
		}
	}
	i := int32(len(h.words))
	h.index[k], h.words = append(h.index[k], i), append(h.words, r)
	return i
}

// skip keeps that a row could not be used.
func (h *held) skip(err *payload.RowError) {
	h.bad = append(h.bad, err)
	h.append(row{at: math.MinInt64, words: noReading})
}

func (h *held) append(r row) {
	if h.n%partRows == 0 {
		h.parts = append(h.parts, make([]row, 0, partRows))
	}
	last := &h.parts[len(h.parts)-1]
	*last = append(*last, r)
	h.n++
}

// Close lets go of what is held.
func (h *held) Close() error {
	h.parts = nil
	return nil
}

// sort puts what is held in time order, after what could not be used.
func (h *held) sort() {
	all := slices.Concat(h.parts...)
	slices.SortStableFunc(all, func(a, b row) int { return cmp.Compare(a.at, b.at) })
	h.parts = slices.Collect(slices.Chunk(all, partRows))
}

// Read gives the next row as it was read, and lets go of it.
func (h *held) Read() (home.Reading, error) {
	if len(h.parts) > 0 && len(h.parts[0]) == 0 {
		h.parts[0], h.parts = nil, h.parts[1:]
		if h.given != nil {
			h.given()
		}
	}
	if len(h.parts) == 0 {
		return home.Reading{}, io.EOF
	}
	next := h.parts[0][0]
	h.parts[0] = h.parts[0][1:]
	if next.words == noReading {
		err := h.bad[0]
		h.bad = h.bad[1:]
		return home.Reading{}, err
	}
	r := h.words[next.words]
	r.Time, r.Arrived, r.Seq, r.Value, r.SD = time.UnixMicro(next.at).UTC(), time.UnixMicro(next.arrived).UTC(), next.seq, next.value, next.sd
	return r, nil
}
