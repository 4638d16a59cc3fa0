package whose

import (
	"math"
	"slices"
	"time"

	"weighbeam/home"
)

// HoldFor and HoldMost are how far back, and how many visits, a name may still
// change by what is seen later.
const (
	HoldFor  = 45 * 24 * time.Hour
	HoldMost = 4096
)

// Naming rules.
const (
	nameAbove  = 0.865 // a cat is named if its probability is at least this
	guestAbove = 0.90  // somebody else is, at this

	// What is told of a probability is rounded, so that it is told again only when
	// it moved, and does not depend on what was told before.
	confidenceStep = 0.01
	shareStep      = 0.05 // a cat that is less likely is not among the shares of a visit
)

const settleEvery = 12 * time.Hour

// Assigner names the visits of one household. Feed it visits in time order.
type Assigner struct {
	house    home.Household
	cats     []home.Cat // in the order of the tracks
	index    map[string]int
	trellis  trellis
	growth   []float64
	shares   shares
	habits   habits
	guests   guests
	anchored []bool  // something other than the stories says what this cat weighs
	groups   [][]int // cats that are the same to the program

	now     time.Time
	settled time.Time
	held    []*step
	last    map[string]*step // newest visit by source
	taught  map[key]string
	tags    []tag
	unclear unclearLog
	prior   []float64 // used again for each weighing
	spare   *step     // a weighing that was let go of, to be used again
}

type key struct {
	source string
	start  int64 // ns
}

// step is one held visit, or a weighing by a person where visit is nil.
type step struct {
	at    time.Time // the visit began, or the person weighed
	visit *home.Visit
	edges []edge
	p     []float64 // by cat, then somebody else
	said  bool
	scale int
	habit []float64 // factor by cat that habits gave
	told  bool
	meals []home.Visit // what was eaten or drunk during it
}

// New returns an Assigner for h, which must be valid.
func New(h home.Household) *Assigner {
	a := &Assigner{
		house: h, cats: slices.Clone(h.Cats), index: map[string]int{},
		last: map[string]*step{}, taught: map[key]string{},
	}
	var start []track
	for i, c := range a.cats {
		a.index[c.ID] = i
		start = append(start, startTrack(c))
		a.anchored = append(a.anchored, c.WeightKg > 0)
	}
	a.growth, a.prior = make([]float64, len(a.cats)), make([]float64, len(a.cats))
	a.trellis = newTrellis(start)
	a.findGroups()
	a.shares = newShares(len(a.cats))
	for i := range a.cats {
		a.shares.new[i] = !a.anchored[i]
	}
	a.habits = newHabits(len(a.cats))
	return a
}

// Step takes the next visit and returns every visit whose naming is new or has
// changed, by Source and Start: v itself, and earlier ones. Meals and drinks
// are named where that can be known; other events, and visits whose mass no cat
// can have, are returned
// as they came. A visit that begins no later than the one before it on the same
// scale was seen already: it changes nothing and returns nothing.
func (a *Assigner) Step(v home.Visit) []home.Visit {
	switch {
	case v.Event == home.Meal || v.Event == home.Drink:
		return []home.Visit{a.meal(v)}
	case v.Event != home.CatVisit || home.Weight.Gate(v.MassKg) != nil:
		return []home.Visit{v}
	}
	if last := a.last[v.Source]; last != nil && !v.Start.After(last.at) {
		return nil
	}
	a.advance(v.Start)
	s := &step{at: v.Start, visit: &v}
	a.last[v.Source] = s
	w := a.weigh(s)
	s.edges = a.trellis.step(&w, nil)
	a.held = append(a.held, s)
	return a.settle()
}

// advance moves the model to t; a time before now leaves it where it is.
func (a *Assigner) advance(t time.Time) {
	if a.now.IsZero() {
		a.now, a.settled = t, t
	}
	days := t.Sub(a.now).Hours() / 24
	if days <= 0 {
		return
	}
	for i, c := range a.cats {
		a.growth[i] = growth(c, t)
	}
	a.trellis.move(days, a.growth)
	a.shares.fade(days)
	a.habits.fade(days)
	a.guests.fade(days)
	a.now = t
}

// spread is a standard uncertainty in g, no better than least; one that is no
// number says nothing of the mass.
func spread(kg, least float64) float64 {
	const most = 1000
	if !(kg*1000 < most) {
		return most
	}
	return math.Max(kg*1000, least)
}

// weigh turns a visit into a weighing with priors, from what was said of it,
// from who uses the scale, and from who comes how often.
func (a *Assigner) weigh(s *step) weighing {
	v := *s.visit
	sd := spread(v.SDKg, scaleLeast)
	w := weighing{mass: v.MassKg * 1000, variance: sd * sd, prior: a.noPrior()}
	if cat, ok := a.said(v); ok {
		s.said, w.said = true, true
		if i, ok := a.index[cat]; ok {
			w.prior[i] = 1
			a.claim(i, &w)
		} else {
			w.guest = 1
		}
		return w
	}
	scale, known := a.house.Scale(v.Source)
	for i, c := range a.cats {
		if (!known || scale.Serves(c.ID)) && !c.Born.After(v.Start) {
			w.prior[i] = 1
		}
	}
	w.guest = a.shares.prior(w.prior) * a.guests.density(w.mass)
	s.scale = a.habits.scale(v.Source)
	s.habit = make([]float64, len(a.cats))
	w.habit = s.habit
	for i, p := range w.prior {
		s.habit[i] = 1
		if p > 0 {
			s.habit[i] = a.habits.factor(i, s.scale, v.Start)
		}
	}
	return w
}
