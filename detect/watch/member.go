package watch

import (
	"math"
	"slices"
	"time"

	"weighbeam/detect"
	"weighbeam/home"
)

// monitor is what judges one subject: a cat's, or that of a scale's silence.
type monitor interface {
	Step(o detect.Observation) []home.Transition
	Tick(now time.Time) []home.Transition
	Calm() time.Time // before it a Tick does nothing, unless something is stepped
	Open() []home.Finding
}

// member is one subject of a House, a cat or a scale: its history, its monitor
// and what was told of it.
type member struct {
	id        string
	who       home.Cat       // zero for a scale
	anew      func() monitor // one that has seen nothing
	seen      past
	monitor   monitor
	waypoints []waypoint // in time order; of a cat only
	next      int        // so many of seen were stepped
	due       time.Time  // the next full hour that is stepped, unless something is seen before; zero until the first is
	wake      time.Time  // before it there is nothing to do, unless something is learned
	stale     bool       // the monitor must be made anew
	told      map[home.Sign]home.Finding
	doubt     map[home.Sign]time.Time // told, but not found since then in what was made anew
	ahead     time.Time               // of what was told before watching came to it, see House.Heed; zero for nothing
	left      bool
	handed    int             // the first day that was not handed to where drift is looked for
	day       []home.Weighing // used again for each
	weighing  home.Weighing   // that is stepped, used again for each
}

// Doubt is how long a finding that was told stays open after readings that came
// late, or visits that got another name, took the ground from under it: names are
// often settled back and forth for days, and nobody should be told of each turn.
const Doubt = 72 * time.Hour

func newCat(c home.Cat, opt detect.Options) *member {
	m := newMember(c.ID, func() monitor { return detect.New(c, opt) })
	m.who = c
	return m
}

func newScale(id string) *member {
	m := newMember(id, func() monitor { return detect.NewSilence(id) })
	m.seen.scale = true
	return m
}

func newMember(id string, anew func() monitor) *member {
	return &member{id: id, seen: past{cat: id}, anew: anew, monitor: anew(), told: map[home.Sign]home.Finding{}, doubt: map[home.Sign]time.Time{}, handed: math.MinInt}
}

// sync replaces the observations dated from from to before to; passed is the full hour up
// to which the house was watched. The common case, something new at the end, costs no copy.
func (m *member) sync(from, to, passed time.Time, obs []detect.Observation) {
	lo, hi := m.seen.from(from), m.seen.from(to)
	for lo < hi && len(obs) > 0 && same(m.seen.at(lo, &m.weighing), obs[0]) { // what is known already stays
		lo, obs = lo+1, obs[1:]
	}
	if lo == hi && len(obs) == 0 {
		return
	}
	m.handed = min(m.handed, dayOf(from))
	first := endOfTime
	if len(obs) > 0 {
		first = obs[0].Time()
	}
	m.learn(lo, first, passed)
	if lo < hi && !m.ahead.IsZero() { // what was told before watching came to it may be taken back
		m.stale, m.wake = true, time.Time{}
	}
	m.seen.replace(lo, hi, obs)
}

// add puts o after all that was seen by then.
func (m *member) add(o detect.Observation, passed time.Time) {
	at, i := o.Time(), m.seen.len()
	for i > 0 && m.seen.time(i-1).After(at) {
		i--
	}
	m.handed = min(m.handed, dayOf(at))
	m.learn(i, at, passed)
	m.seen.insert(i, o)
}

// learn says that the past is another from the observation i on, the first that is new
// being of a time.
func (m *member) learn(i int, first, passed time.Time) {
	m.changed(i)
	m.stale = m.stale || i < m.next || !m.due.IsZero() && first.Before(passed)
	switch {
	case m.stale:
		m.wake = time.Time{}
	case first.Before(m.wake):
		m.wake = first
	}
}

// same reports whether two observations say the same.
func same(a, b detect.Observation) bool {
	switch {
	case a.Weighing != nil && b.Weighing != nil:
		return a.Box == b.Box && *a.Weighing == *b.Weighing
	case a.Count != nil && b.Count != nil:
		return *a.Count == *b.Count
	case a.Check != nil && b.Check != nil:
		return a.Check.ID == b.Check.ID
	case a.Care != nil && b.Care != nil:
		return a.Care.ID == b.Care.ID
	case a.Visit != nil && b.Visit != nil:
		return a.Box == b.Box && sameVisit(*a.Visit, *b.Visit)
	}
	return !a.Heard.IsZero() && a.Heard.Equal(b.Heard)
}

// sameVisit compares what the signs look at. Whose it was is known of both.
func sameVisit(a, b home.Visit) bool {
	return a.Source == b.Source && a.Event == b.Event && a.Start.Equal(b.Start) && a.End.Equal(b.End) &&
		a.HasLeft == b.HasLeft && a.LeftG == b.LeftG && a.LeftSDG == b.LeftSDG && a.Confidence == b.Confidence
}

// advance steps everything up to now and returns what is to be told.
func (m *member) advance(reached, now time.Time) []home.Transition {
	if now.Before(m.wake) {
		return nil
	}
	if m.left {
		return m.leave(now)
	}
	var turned []home.Transition
	if m.stale {
		turned = m.remake(reached)
	}
	for _, t := range m.run(now) {
		if t, ok := m.tell(t); ok {
			turned = append(turned, t)
		}
	}
	m.trim(now)
	if !m.ahead.IsZero() && !m.ahead.After(now) {
		m.ahead, m.stale = time.Time{}, true // it may have been taken back before watching came to it
	}
	turned = append(turned, m.settle(now)...)
	m.rest()
	return turned
}

// heardKept is for how long it is remembered when a scale spoke: twice what its
// habit is learned from, so that late readings can still take their place.
const heardKept = 62 * 24 * time.Hour

// trim forgets when a scale spoke long ago. A cat's history is kept whole.
func (m *member) trim(now time.Time) {
	if !m.seen.scale || m.next < 2 || m.seen.time(m.next/2).After(now.Add(-heardKept)) {
		return
	}
	n := min(m.next, m.seen.from(now.Add(-heardKept)))
	m.seen.forget(n)
	m.next -= n
}

// settle closes what has been in doubt for long enough.
func (m *member) settle(now time.Time) []home.Transition {
	if len(m.doubt) == 0 {
		return nil
	}
	var turned []home.Transition
	for _, f := range m.toldInOrder() {
		since, ok := m.doubt[f.Sign]
		switch {
		case !ok:
		case m.spoke(f): // the scale sent at once what it had kept meanwhile
			turned = append(turned, m.close(f, now, detect.HeardAgain))
		case now.Sub(since) >= Doubt:
			reason := "Readings that came late, or a correction, changed the picture."
			if f.Raised.After(now) {
				reason = "It was told while the clock of the house ran ahead."
			}
			turned = append(turned, m.close(f, now, reason))
		}
	}
	return turned
}

// spoke reports whether f is about a silence that was ended by a word since.
func (m *member) spoke(f home.Finding) bool {
	return f.Sign == home.ScaleSilent && m.next > 0 && m.seen.time(m.next-1).After(f.Raised)
}

// run steps observations and full hours up to now, in time order: an hour comes
// after what was seen before it and before what was seen at it.
func (m *member) run(now time.Time) []home.Transition {
	var turned []home.Transition
	for m.next < m.seen.len() && !m.seen.time(m.next).After(now) {
		turned = m.step(turned)
	}
	return append(turned, m.hours(now)...)
}

// step steps the next observation, and the full hours before it.
func (m *member) step(turned []home.Transition) []home.Transition {
	o := m.seen.at(m.next, &m.weighing)
	turned = append(turned, m.hours(o.Time())...)
	turned = append(turned, m.monitor.Step(o)...)
	m.next++
	m.dueAfter(o.Time())
	return turned
}

// hours ticks each full hour after the last one up to now, but for those in which
// the monitor is calm.
func (m *member) hours(now time.Time) []home.Transition {
	var turned []home.Transition
	for !m.due.IsZero() && !now.Before(m.due) { // before anything was seen, no clock runs
		hour := m.due
		turned = append(turned, m.monitor.Tick(hour)...)
		m.dueAfter(hour)
	}
	return turned
}

// dueAfter sets the next full hour after t, or the one in which the monitor ceases to be calm.
func (m *member) dueAfter(t time.Time) {
	m.due = t.Truncate(time.Hour).Add(time.Hour)
	if calm := m.monitor.Calm(); calm.After(m.due) {
		m.due = calm.Truncate(time.Hour)
	}
}

// tell passes a turn on under the identity that the finding was told with.
func (m *member) tell(t home.Transition) (home.Transition, bool) {
	sign := t.Finding.Sign
	told, ok := m.told[sign]
	switch {
	case t.Turn == home.Raised && ok: // it was in doubt, and is found again
		return m.differ(t.Finding, t.At)
	case t.Turn != home.Raised && !ok:
		return t, false
	case t.Turn == home.Worsened && sign == home.RedFlagSeen && !detect.SeenAnew(told, t.Finding): // see House.Heed
		return t, false
	case ok:
		t.Finding.Raised = told.Raised
	}
	if t.Turn == home.Closed {
		m.forget(sign)
	} else {
		m.told[sign] = t.Finding
	}
	return t, true
}

func (m *member) forget(s home.Sign) {
	delete(m.told, s)
	delete(m.doubt, s)
}

func (m *member) toldInOrder() []home.Finding {
	var all []home.Finding
	for _, f := range m.told {
		all = append(all, f)
	}
	slices.SortFunc(all, func(a, b home.Finding) int { return a.Raised.Compare(b.Raised) })
	return all
}

func (m *member) close(f home.Finding, at time.Time, reason string) home.Transition {
	m.forget(f.Sign)
	f.Closed, f.Updated, f.Reason = at, at, reason
	return home.Transition{Turn: home.Closed, At: at, Finding: f}
}

// leave closes what is open of a cat or scale that is no longer in the household.
func (m *member) leave(now time.Time) []home.Transition {
	var turned []home.Transition
	for _, f := range m.toldInOrder() {
		turned = append(turned, m.close(f, now, home.LeftHousehold))
	}
	m.wake = endOfTime
	return turned
}
