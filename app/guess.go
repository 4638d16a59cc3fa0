package app

import (
	"slices"

	"weighbeam/home"
)

// Guess is the household that readings speak of, where no household file says
// more: every cat that is named, and every device as a litter box for all.
type Guess struct {
	cats, scales []string
}

// Step looks at one reading.
func (g *Guess) Step(r home.Reading) {
	if r.Cat != "" && !slices.Contains(g.cats, r.Cat) {
		g.cats = append(g.cats, r.Cat)
	}
	if r.Source != home.Hand && r.Source != home.Clinic && !slices.Contains(g.scales, r.Source) {
		g.scales = append(g.scales, r.Source)
	}
}

// Household returns the household, its parts by name.
func (g *Guess) Household() home.Household {
	slices.Sort(g.cats)
	slices.Sort(g.scales)
	var h home.Household
	for _, id := range g.cats {
		h.Cats = append(h.Cats, home.Cat{ID: id, Name: id})
	}
	for _, id := range g.scales {
		h.Scales = append(h.Scales, home.Scale{ID: id, Kind: home.LitterBox})
	}
	return h
}
