package whose

import (
	"time"

	"weighbeam/home"
)

// tag is one reading of a tag reader.
type tag struct {
	at     time.Time
	source string
	cat    int
}

// TagWindow is how long before a visit starts or after it ends a tag still
// belongs to it.
const TagWindow = 30 * time.Second

// tagKeeps is for how long a tag waits for its visit to end.
const tagKeeps = 2 * time.Hour

// Teach says that the visit of source that began at start was of cat, or of
// somebody who does not live here where cat is "". It is taken in when the
// visit is stepped: teach first, then run the history again.
func (a *Assigner) Teach(source string, start time.Time, cat string) error {
	if err := a.lives(cat, "teach visit"); err != nil && cat != "" {
		return err
	}
	a.taught[key{source, start.UnixNano()}] = cat
	return nil
}

// Tag says that a reader at source read the tag of cat at t. A visit to that
// source is of the cat whose tag alone was read within 30 s of it. Tell the tags of
// a visit before the visit is stepped.
func (a *Assigner) Tag(t time.Time, source, cat string) error {
	if err := a.lives(cat, "read tag"); err != nil {
		return err
	}
	keep := a.tags[:0]
	for _, g := range a.tags {
		if t.Sub(g.at) <= tagKeeps {
			keep = append(keep, g)
		}
	}
	a.tags = append(keep, tag{t, source, a.index[cat]})
	return nil
}

func (a *Assigner) lives(cat, op string) error {
	if _, ok := a.index[cat]; ok {
		return nil
	}
	return home.Hinted(op, "Use the id of a cat of the household.", "no cat %q lives here", cat)
}

// said returns what a person or a tag says of v.
func (a *Assigner) said(v home.Visit) (cat string, ok bool) {
	if cat, ok := a.taught[key{v.Source, v.Start.UnixNano()}]; ok {
		return cat, true
	}
	found := nobody
	for _, g := range a.tags {
		if g.source != v.Source || g.at.Before(v.Start.Add(-TagWindow)) || g.at.After(v.End.Add(TagWindow)) {
			continue
		}
		if found != nobody && found != g.cat {
			return "", false // two cats at once: the tag decides nothing
		}
		found = g.cat
	}
	if found == nobody {
		return "", false
	}
	return a.cats[found].ID, true
}

// Weigh takes in a weighing of a known cat by a person. Weighings of cats that
// do not live here are passed over. What it changes is told at the next Step.
func (a *Assigner) Weigh(w home.Weighing) {
	i, ok := a.index[w.Cat]
	if !ok || home.Weight.Gate(w.Kg) != nil {
		return
	}
	a.advance(w.Time)
	sd := spread(w.SDKg, handSD)
	in := weighing{mass: w.Kg * 1000, variance: sd * sd, prior: a.noPrior()}
	in.prior[i], in.said = 1, true
	a.claim(i, &in)
	s := a.spare
	if s == nil {
		s = &step{}
	}
	a.spare = nil
	*s = step{at: w.Time, edges: a.trellis.step(&in, s.edges[:0])}
	a.held = append(a.held, s)
	a.releaseWeighings()
}

// noPrior is a prior that rules every cat out, good until the next.
func (a *Assigner) noPrior() []float64 {
	clear(a.prior)
	return a.prior
}

// releaseWeighings lets go of the weighings that the next visit would let go of
// without having needed them: no visit before them is held. Many years of
// weighings may come without any visit.
func (a *Assigner) releaseWeighings() {
	if a.now.Sub(a.settled) < settleEvery { // how many are held still decides when names are looked at again
		return
	}
	for len(a.held) > 0 && a.held[0].visit == nil && a.ripe(0) {
		a.spare, a.held[0] = a.held[0], nil
		a.held = a.held[1:]
	}
}

// handSD is the least standard uncertainty of another scale against those of
// the house, g.
const handSD = 30.0
