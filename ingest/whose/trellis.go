package whose

import (
	"cmp"
	"math"
	"slices"
)

// Limits of the trellis.
const (
	keepMost   = 24   // stories kept side by side
	growMost   = 96   // continuations looked at
	dropBelow  = 1e-5 // a continuation with less of the weight is dropped
	mergeBelow = 0.6  // stories closer than this (see track.apart) are one
	mergeFar   = 20.0 // stories further apart than this are never one
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
}

func newTrellis(start []track) trellis {
	t := trellis{scratch: make([]track, len(start))}
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
	guest          float64 // prior of somebody else times the density a g
}

// step continues every story by w and returns the edges kept.
func (t *trellis) step(w *weighing) []edge {
	t.branch(w)
	t.prune()
	return t.merge(w)
}

func (t *trellis) branch(w *weighing) {
	t.branches = t.branches[:0]
	for i := range t.stories {
		s := &t.stories[i]
		if w.guest > 0 {
			t.branches = append(t.branches, branch{from: i, cat: nobody, weight: s.weight * w.guest})
		}
		for j := range s.tracks {
			if w.prior[j] > 0 {
				t.branchCat(s, i, j, w)
			}
		}
	}
}

func (t *trellis) branchCat(s *story, i, j int, w *weighing) {
	p, tail := s.tracks[j].density(w.mass, w.variance)
	b := branch{from: i, cat: j, weight: s.weight * w.prior[j] * p, tail: tail}
	if s.tracks[j].seen {
		t.branches = append(t.branches, b)
		return
	}
	fresh := s.tracks[j]
	fresh.widen()
	p, tail = fresh.density(w.mass, w.variance)
	f := branch{from: i, cat: j, weight: s.weight * w.prior[j] * p * afreshShare, tail: tail, afresh: true}
	b.weight *= 1 - afreshShare
	t.branches = append(t.branches, b, f)
}

// prune sorts the branches by weight, drops the light ones and makes the rest sum to 1.
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
	for _, b := range t.branches {
		if b.weight >= dropBelow*total {
			kept = append(kept, b)
		}
	}
	slices.SortStableFunc(kept, func(a, b branch) int { return cmp.Compare(b.weight, a.weight) })
	kept = kept[:min(len(kept), growMost)]
	total = 0
	for _, b := range kept {
		total += b.weight
	}
	for i := range kept {
		kept[i].weight /= total
	}
	t.branches = kept
}

// merge carries the branches out, heaviest first, and makes one story of those
// that say the same.
func (t *trellis) merge(w *weighing) []edge {
	next := t.spare[:0]
	edges := make([]edge, 0, len(t.branches))
	kept := 0.0
	for _, b := range t.branches {
		t.carryOut(b, w)
		near, far := nearest(next, t.scratch)
		switch {
		case near >= 0 && (far < mergeBelow || len(next) == keepMost && far < mergeFar):
			next[near].absorb(t.scratch, b.weight)
		case len(next) < keepMost:
			near = len(next)
			next = next[:near+1]
			next[near].weight = b.weight
			copy(next[near].tracks, t.scratch)
		default:
			continue
		}
		kept += b.weight
		edges = append(edges, edge{int16(b.from), int16(near), int16(b.cat), b.weight})
	}
	for i, e := range edges {
		edges[i].share = e.share / next[e.to].weight
	}
	for i := range next {
		next[i].weight /= kept
	}
	t.stories, t.spare = next, t.stories
	return edges
}

// carryOut writes into scratch the tracks of b's story after b.
func (t *trellis) carryOut(b branch, w *weighing) {
	copy(t.scratch, t.stories[b.from].tracks)
	if b.cat == nobody {
		return
	}
	if b.afresh {
		t.scratch[b.cat].widen()
	}
	t.scratch[b.cat].take(w.mass, w.variance, b.tail)
}

func (s *story) absorb(tracks []track, weight float64) {
	own := s.weight / (s.weight + weight)
	for j := range s.tracks {
		if s.tracks[j] != tracks[j] {
			s.tracks[j].blend(&tracks[j], own)
		}
	}
	s.weight += weight
}

// nearest returns the index of the story most like tracks, -1 for none, and how
// far apart they are.
func nearest(stories []story, tracks []track) (int, float64) {
	best, least := -1, math.Inf(1)
	for i := range stories {
		d := 0.0
		for j := range tracks {
			if d += stories[i].tracks[j].apart(&tracks[j]); d >= least {
				break
			}
		}
		if d < least {
			best, least = i, d
		}
	}
	return best, least
}
