package whose

// merge carries the branches out, heaviest first, and makes one story of those
// that say the same.
func (t *trellis) merge(w *weighing, edges []edge) []edge {
	next := t.spare[:0]
	for _, b := range t.branches {
		t.carryOut(b, w)
		to, d := nearest(next, t.scratch, mergeFar)
		full := len(next) == keepMost
		if d >= mergeBelow && full {
			next, full = makeRoom(next, edges, b.weight*d)
			if !full {
				to, d = len(next), mergeFar
			}
		}
		switch {
		case to >= 0 && (d < mergeBelow || full):
			next[to].absorb(t.scratch, b.weight)
		case full:
			continue
		default:
			to = len(next)
			next = next[:to+1]
			next[to].weight = b.weight
			copy(next[to].tracks, t.scratch)
		}
		edges = append(edges, edge{int16(b.from), int16(to), int16(b.cat), b.weight})
	}
	t.closeStep(next, edges)
	return edges
}

// closeStep makes next the stories of now and turns weights into shares.
func (t *trellis) closeStep(next []story, edges []edge) {
	kept := 0.0
	for i := range next {
		kept += next[i].weight
	}
	for i, e := range edges {
		edges[i].share = e.share / next[e.to].weight
	}
	for i := range next {
		next[i].weight /= kept
	}
	t.stories, t.spare = next, t.stories
}

// makeRoom merges the two stories that lose least by it, if that is less than
// most, and reports whether s is still full.
func makeRoom(s []story, edges []edge, most float64) ([]story, bool) {
	i, j := closest(s, most)
	if i < 0 {
		return s, true
	}
	s[i].absorb(s[j].tracks, s[j].weight)
	last := len(s) - 1
	s[j], s[last] = s[last], s[j]
	for k := range edges {
		switch int(edges[k].to) {
		case j:
			edges[k].to = int16(i)
		case last:
			edges[k].to = int16(j)
		}
	}
	return s[:last], false
}

// closest returns the two stories whose merging loses least, if that is less than
// most; else i is -1. What merging loses is, to first order, their harmonic
// weight times how far they are apart.
func closest(s []story, most float64) (i, j int) {
	i, j = -1, -1
	for a := range s {
		for b := range a {
			w := s[a].weight * s[b].weight / (s[a].weight + s[b].weight)
			if d := s[a].apart(s[b].tracks, most/w); w*d < most {
				i, j, most = b, a, w*d
			}
		}
	}
	return i, j
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

// nearest returns the index of the story most like tracks and less than reach
// apart from them, or -1, and how far it is.
func nearest(stories []story, tracks []track, reach float64) (int, float64) {
	best := -1
	for i := range stories {
		if d := stories[i].apart(tracks, reach); d < reach {
			best, reach = i, d
		}
	}
	return best, reach
}

// apart is how far tracks are from s, or at least reach.
func (s *story) apart(tracks []track, reach float64) float64 {
	d := 0.0
	for j := range tracks {
		if d += s.tracks[j].apart(&tracks[j]); d >= reach {
			break
		}
	}
	return d
}
