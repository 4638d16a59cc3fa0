package whose

// Cats of which nothing is known yet, no weight, no weighing, no word of a
// person, and which use the same scales are the same to the program: a story
// in which two of them are exchanged is as good as the one it came from. Only
// one of the two is kept, and what it says of them is shared out among all.

// alike returns the cats that are the same to the program as cat i, itself
// included, or nil where it is told apart.
func (a *Assigner) alike(i int) []int {
	if a.anchored[i] {
		return nil
	}
	var same []int
	for j := range a.cats {
		if !a.anchored[j] && a.sameScales(i, j) {
			same = append(same, j)
		}
	}
	return same
}

func (a *Assigner) sameScales(i, j int) bool {
	for _, s := range a.house.Scales {
		if s.Serves(a.cats[i].ID) != s.Serves(a.cats[j].ID) {
			return false
		}
	}
	return a.cats[i].Born.Equal(a.cats[j].Born)
}

// findGroups lists again the groups of two or more cats that are the same to
// the program.
func (a *Assigner) findGroups() {
	a.groups = a.groups[:0]
	for i := range a.cats {
		if g := a.alike(i); len(g) > 1 && g[0] == i {
			a.groups = append(a.groups, g)
		}
	}
}

// shareOut evens p out among the cats of each group.
func (a *Assigner) shareOut(p []float64) {
	for _, g := range a.groups {
		sum := 0.0
		for _, i := range g {
			sum += p[i]
		}
		for _, i := range g {
			p[i] = sum / float64(len(g))
		}
	}
}

// claim makes known what cat i weighs. Where it was one of a group, the track
// that fits w best becomes its own, in all that is held.
func (a *Assigner) claim(i int, w *weighing) {
	if a.anchored[i] {
		return
	}
	best, most := i, -1.0
	for _, j := range a.alike(i) {
		if p := a.trellis.density(j, w); p > most {
			best, most = j, p
		}
	}
	a.anchored[i], a.shares.new[i] = true, false
	a.findGroups()
	if best != i {
		a.exchange(i, best)
	}
}

// exchange gives each of the cats i and j what was believed of the other.
func (a *Assigner) exchange(i, j int) {
	a.trellis.exchange(i, j)
	a.shares.cats[i], a.shares.cats[j] = a.shares.cats[j], a.shares.cats[i]
	a.habits.byCat[i], a.habits.byCat[j] = a.habits.byCat[j], a.habits.byCat[i]
	for _, s := range a.held {
		if s.habit != nil {
			s.habit[i], s.habit[j] = s.habit[j], s.habit[i]
		}
		for k := range s.edges {
			switch int(s.edges[k].cat) {
			case i:
				s.edges[k].cat = int16(j)
			case j:
				s.edges[k].cat = int16(i)
			}
		}
	}
}

// density is how well w fits cat j over all stories.
func (t *trellis) density(j int, w *weighing) float64 {
	sum := 0.0
	for i := range t.stories {
		p, _ := t.stories[i].tracks[j].density(w.mass, w.variance, t.wild)
		sum += t.stories[i].weight * p
	}
	return sum
}

func (t *trellis) exchange(i, j int) {
	for k := range t.stories {
		tr := t.stories[k].tracks
		tr[i], tr[j] = tr[j], tr[i]
	}
}
