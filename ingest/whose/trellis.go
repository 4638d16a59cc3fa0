package whose

import (
	"cmp"
	"slices"
)

// Limits of the trellis.
const (
	keepMost   = 24    // stories kept side by side
	dropBelow  = 1e-5  // a story with less of the weight ends
	lightBelow = 0.002 // a continuation with less of its story's weight is not followed
	mergeBelow = 0.25  // stories closer than this (see track.apart) are one
	mergeFar   = 20.0  // stories further apart than this are never one

	explainedBy = 3.0 // standard deviations within which a visit is usual for a cat
)

// story is one account of what happened so far: a weight and a track for each cat.
type story struct {
	weight float64
	tracks []track
}

// nobody is the index of "somebody else" where cats are counted from 0.
const nobody = -1

// edge is one way to continue a story by a visit. share is its part of the
// weight of the story it leads to.
type edge struct {
	from, to int16
	cat      int16 // index of the cat, or nobody
	share    float64
}

// branch is an edge before merging.
type branch struct {
	from, cat int
	weight    float64
	tail      float64
	afresh    bool // the cat was never weighed and is not where it was said to be
}

// trellis holds the stories of now. Its two buffers take turns so that a step
// allocates nothing but its edges.
type trellis struct {
	stories  []story
	spare    []story
	branches []branch
	scratch  []track
	wild     float64 // share of visits that err widely
}

func newTrellis(start []track) trellis {
	t := trellis{scratch: make([]track, len(start)), wild: tailShare}
	for range keepMost {
		t.stories = append(t.stories, story{tracks: make([]track, len(start))})
		t.spare = append(t.spare, story{tracks: make([]track, len(start))})
	}
	t.stories = t.stories[:1]
	t.stories[0].weight = 1
	copy(t.stories[0].tracks, start)
	return t
}

// move carries every track over the given days; growth gives the slope each
// cat tends to.
func (t *trellis) move(days float64, growth []float64) {
	if days <= 0 {
		return
	}
	d := driftOver(days)
	for i := range t.stories {
		for j := range t.stories[i].tracks {
			t.stories[i].tracks[j].move(&d, growth[j])
		}
	}
}

// weighing is one mass in g with its variance in g2, and the prior of each cat
// and of somebody else for it. A prior of 0 rules a cat out.
type weighing struct {
	mass, variance float64
	prior          []float64
	habit          []float64 // factor on each prior by habit, nil for none
	said           bool      // who it was is known
	guest          float64   // prior of somebody else times the density a g
}

// step continues every story by w and returns the edges kept, appended to edges.
func (t *trellis) step(w *weighing, edges []edge) []edge {
	t.branch(w)
	t.prune()
	return t.merge(w, slices.Grow(edges, len(t.branches)))
}

func (t *trellis) branch(w *weighing) {
	t.branches = t.branches[:0]
	for i := range t.stories {
		s := &t.stories[i]
		first := len(t.branches)
		if w.guest > 0 {
			t.branches = append(t.branches, branch{from: i, cat: nobody, weight: s.weight * w.guest})
		}
		scale := s.weight * w.scale(s.tracks)
		for j := range s.tracks {
			switch {
			case w.prior[j] == 0:
			case w.said || s.tracks[j].placed():
				t.branchCat(s, i, j, scale*w.prior[j], w)
			case !s.explains(w):
				t.branchCat(s, i, j, s.weight*newHazard, w)
			}
		}
		if w.habit != nil {
			lean(t.branches[first:], w.habit)
		}
	}
}

// explains reports whether the mass of w is usual for a cat that s has placed. A
// cat of which nothing is known is not looked for there: two cats in the place
// of one fit any visits at least as well as one, which is no evidence.
func (s *story) explains(w *weighing) bool {
	for j := range s.tracks {
		t := &s.tracks[j]
		e := w.mass - t.level
		if t.placed() && w.prior[j] > 0 && e*e < explainedBy*explainedBy*(t.pll+t.scatter+w.variance) {
			return true
		}
	}
	return false
}

// lean shifts weight between the continuations of one story by the habits of
// the cats. Their sum stays: habits are estimates, and an error in them, the
// same at each visit, would add up to certainty between stories that differ
// for weeks.
func lean(branches []branch, habit []float64) {
	before, after := 0.0, 0.0
	for i, b := range branches {
		before += b.weight
		if b.cat != nobody {
			branches[i].weight *= habit[b.cat]
		}
		after += branches[i].weight
	}
	if after > 0 {
		for i := range branches {
			branches[i].weight *= before / after
		}
	}
}

// scale is what the priors of the cats that a story has placed are multiplied by,
// so that a story is not the likelier for having placed more of them.
func (w *weighing) scale(tracks []track) float64 {
	all, placed := 0.0, 0.0
	for j, p := range w.prior {
		all += p
		if tracks[j].placed() {
			placed += p
		}
	}
	if placed == 0 {
		return 1
	}
	return all / placed
}

func (t *trellis) branchCat(s *story, i, j int, prior float64, w *weighing) {
	p, tail := s.tracks[j].density(w.mass, w.variance, t.wild)
	b := branch{from: i, cat: j, weight: prior * p, tail: tail}
	if s.tracks[j].seen || !s.tracks[j].stated {
		t.branches = append(t.branches, b)
		return
	}
	fresh := s.tracks[j]
	fresh.widen()
	p, tail = fresh.density(w.mass, w.variance, t.wild)
	f := branch{from: i, cat: j, weight: prior * p * afreshShare, tail: tail, afresh: true}
	b.weight *= 1 - afreshShare
	t.branches = append(t.branches, b, f)
}

// prune drops light branches, makes the rest sum to 1 and sorts them by weight.
// What a story loses goes to its heaviest branch: a story must not grow lighter
// because its next step is less clear than that of another.
func (t *trellis) prune() {
	total := 0.0
	for _, b := range t.branches {
		total += b.weight
	}
	if !(total > 0) { // nothing fits: keep every story as likely as it was
		for i := range t.branches {
			t.branches[i].weight = t.stories[t.branches[i].from].weight
			total += t.branches[i].weight
		}
	}
	kept := t.branches[:0]
	for rest := t.branches; len(rest) > 0; {
		n := 1
		for n < len(rest) && rest[n].from == rest[0].from {
			n++
		}
		kept = thin(kept, rest[:n], total)
		rest = rest[n:]
	}
	slices.SortStableFunc(kept, func(a, b branch) int { return cmp.Compare(b.weight, a.weight) })
	t.branches = kept
}

// thin appends to kept the branches of one story that carry enough of its weight.
func thin(kept, own []branch, total float64) []branch {
	sum, best := 0.0, own[0]
	for _, b := range own {
		sum += b.weight
		if b.weight > best.weight {
			best = b
		}
	}
	if sum < dropBelow*total {
		return kept
	}
	light := 0.0
	for _, b := range own {
		if b.weight < lightBelow*sum {
			light += b.weight
		}
	}
	for _, b := range own {
		if b.weight < lightBelow*sum {
			continue
		}
		if b == best {
			b.weight += light
		}
		b.weight /= total
		kept = append(kept, b)
	}
	return kept
}
