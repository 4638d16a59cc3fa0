package weigh

import (
	"cmp"
	"slices"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/whose"
)

// Hold is how long a visit waits after its end before it is named, so that
// visits to different scales, which close in any order, are named in the order
// in which they began.
const Hold = 10 * time.Minute

// settledSD is the standard uncertainty given to a settled value that comes
// without one, kg: half of the 50 g steps that the coarsest home scales show,
// as a standard deviation (common practice, no published source).
const settledSD = 0.05 / 2

// Weigher makes visits from readings. It is pure and not safe for use by several
// goroutines at once.
type Weigher struct {
	house    home.Household
	scales   map[string]*scale
	sources  []string // those of scales, sorted
	truths   map[string][]home.Calibration
	who      *whose.Assigner
	waiting  []home.Visit   // closed, not yet named
	known    []weighed      // of cats whose name came with it, not yet told to the assigner
	tags     []home.Reading // read beside a scale, not yet told to it
	recalled map[visitKey]bool
	taken    taken
	released time.Time // visits that ended before were named
	named    time.Time // start of the latest visit that was
	late     bool
	apart    time.Time // the first reading that is dated ahead of the clock; zero for none
}

// New returns a Weigher for h, which must be valid, that knows what people said
// of visits, and how true the scales are. What was said of a cat that has left is
// passed over.
func New(h home.Household, namings []home.Naming, calibrations []home.Calibration) *Weigher {
	w := &Weigher{house: h, scales: map[string]*scale{}, truths: map[string][]home.Calibration{}, who: whose.New(h),
		recalled: map[visitKey]bool{}}
	for _, c := range calibrations {
		w.truths[c.Source] = append(w.truths[c.Source], c)
	}
	for _, s := range namings {
		if _, lives := h.Cat(s.Cat); lives || s.Cat == "" {
			_ = w.who.Teach(s.Source, s.Start, s.Cat) // it refuses only cats that do not live here
		}
	}
	return w
}

// Step takes the next reading of its source, in time order within the source.
// Readings that do not come from a scale of the household, or that mean nothing
// for weighing, change nothing. What is not load may come again before it is used, as
// it does where a later reading of its source overtakes it.
func (w *Weigher) Step(r home.Reading) {
	switch {
	case r.Quantity == home.Load:
		w.load(r)
	case w.taken.again(r):
	case r.Quantity == home.Tag:
		w.late = w.late || r.Time.Before(w.released)
		w.tags = append(w.tags, r)
	case r.Quantity == home.Weight && r.Cat != "":
		w.late = w.late || r.Time.Before(w.released)
		w.note(r)
	case r.Quantity == home.Weight && r.Source != home.Hand && r.Source != home.Clinic:
		w.late = w.late || r.Time.Before(w.released)
		w.settle(r)
	}
}

// scale is the tracker of a source, a new one for a source that is new.
func (w *Weigher) scale(source string) *scale {
	s := w.scales[source]
	if s == nil {
		known, ok := w.house.Scale(source)
		if !ok {
			known.Kind = home.Floor // not described yet: nothing is assumed of what stands on it
		}
		s = newScale(known.Kind, w.truths[source])
		w.scales[source] = s
		w.sources = append(w.sources, source)
		slices.Sort(w.sources)
	}
	return s
}

func (w *Weigher) load(r home.Reading) {
	s := w.scale(r.Source)
	s.lag.arrive(r)
	if r.Time.Before(s.last) || s.tracker.Contradicts(r.Time) {
		w.late = true
		return
	}
	s.last = r.Time
	if s.testing(r.Time, r.Value) {
		return
	}
	s.tracker.Step(r.Time, s.correct(r.Time, r.Value), func(v home.Visit) {
		v.Source = r.Source
		w.close(stamp(v, s.now))
	})
}

// settle takes in the value of a device that sends one a stay.
func (w *Weigher) settle(r home.Reading) {
	s := w.scale(r.Source)
	if s.during(r.Time) {
		return
	}
	c := s.at(r.Time)
	if !plain(c) {
		r.Value, r.SD = c.Correct(r.Value), c.Gain*r.SD
	}
	if home.Weight.Gate(r.Value) == nil {
		w.close(stamp(settled(r), c))
	}
}

// settled is the visit of a device that sends one value a stay.
func settled(r home.Reading) home.Visit {
	v := home.Visit{Source: r.Source, Start: r.Time, End: r.Time, Event: home.CatVisit, MassKg: r.Value, SDKg: r.SD, Quality: 1}
	if v.SDKg == 0 {
		v.SDKg = settledSD
	}
	return v
}

// close takes in a visit that is over. One that a tracker understood only after
// Hold, when a visit that began later had its name already, comes late.
func (w *Weigher) close(v home.Visit) {
	if w.recalled[keyOf(v)] {
		return
	}
	w.late = w.late || v.Start.Before(w.named)
	w.waiting = append(w.waiting, v)
}

// Resume goes on, for one source, from where its load begins. An error says that
// the checkpoint is of another kind of scale; the source then begins afresh.
func (w *Weigher) Resume(c home.Checkpoint) error {
	s := w.scale(c.Source)
	s.last = c.At
	return s.resume(c)
}

// Recall takes in a visit that was understood before, whose load is gone. It is
// named anew.
func (w *Weigher) Recall(v home.Visit) {
	v.Cat, v.Confidence, v.Whose, v.Shares = "", 0, "", nil
	v = renew(v, w.scale(v.Source).at(v.Start))
	w.close(v)
	w.recalled[keyOf(v)] = true
}

// Release lets time pass to now and returns the visits that are new or whose
// name changed, by now.
func (w *Weigher) Release(now time.Time) []home.Visit {
	held := time.Duration(0)
	for _, source := range w.sources {
		s := w.scales[source]
		s.tracker.Tick(now.Add(-s.lag.most()), func(v home.Visit) {
			v.Source = source
			w.close(stamp(v, s.now))
		})
		if behind := s.lag.most(); behind <= mostHeld {
			held = max(held, behind)
		}
	}
	until := w.inTurn(now.Add(-Hold - held))
	if until.Before(w.released) {
		return nil
	}
	before := w.released
	w.released = until
	w.taken.release(until)
	if !slices.ContainsFunc(w.waiting, func(v home.Visit) bool { return v.End.Before(until) }) {
		return nil
	}
	var out []home.Visit
	due, waiting := split(w.waiting, func(v home.Visit) bool { return v.End.Before(until) })
	w.waiting = waiting
	slices.SortStableFunc(due, func(a, b home.Visit) int {
		if c := a.Start.Compare(b.Start); c != 0 {
			return c
		}
		return cmp.Compare(a.Source, b.Source)
	})
	slices.SortStableFunc(w.tags, inTime)
	w.weigh(before)
	for _, v := range due {
		w.weigh(v.Start)
		w.tell(v.End)
		if v.Start.After(w.named) {
			w.named = v.Start
		}
		out = append(out, w.who.Step(v)...)
	}
	return newest(out)
}

// tell tells the assigner whose tags were read until soon after a visit ended. A tag
// that no cat of the house has says nothing.
func (w *Weigher) tell(end time.Time) {
	for len(w.tags) > 0 && !w.tags[0].Time.After(end.Add(whose.TagWindow)) {
		if cat, ok := w.house.Chipped(w.tags[0].Value); ok {
			_ = w.who.Tag(w.tags[0].Time, w.tags[0].Source, cat.ID) // it refuses only cats that do not live here
		}
		w.tags = w.tags[1:]
	}
}

// Late reports whether a reading came that should have come before: the Weigher
// must then be made anew from the whole history.
func (w *Weigher) Late() bool { return w.late }

// split parts s into those that pass and, in the place of s, the rest, each in its order.
func split[T any](s []T, pass func(T) bool) (yes, rest []T) {
	rest = s[:0]
	for _, v := range s {
		if pass(v) {
			yes = append(yes, v)
		} else {
			rest = append(rest, v)
		}
	}
	clear(s[len(rest):])
	return yes, rest
}

// newest keeps the last word on each visit, in the order of the last words.
func newest(visits []home.Visit) []home.Visit {
	last := map[visitKey]int{}
	for i, v := range visits {
		last[keyOf(v)] = i
	}
	var out []home.Visit
	for i, v := range visits {
		if last[keyOf(v)] == i {
			out = append(out, v)
		}
	}
	return out
}

// visitKey is what makes a visit the same visit.
type visitKey struct {
	source string
	start  int64
}

func keyOf(v home.Visit) visitKey { return visitKey{v.Source, v.Start.UnixMicro()} }
