package chart

import (
	"cmp"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Place is where a reading lies in a picture: X from the left and Y from the top, as
// parts of its width and height.
type Place struct {
	Mark
	Series string
	X, Y   float64
}

// Places returns where the readings of p lie in a picture of a size, from the left.
// Of those in one column of dots it is the newest: no finger points more finely.
func (p Picture) Places(s Size) []Place {
	c := draw.New(newCanvas(vg.Length(s.W), vg.Length(s.H)))
	pl := p.plot(s)
	area := pl.DataCanvas(p.crop(c, s))
	x, y := pl.Transforms(&area)
	var all []Place
	for _, one := range p.Series {
		for _, m := range one.Marks {
			if m.Time.Before(p.From) || m.Time.After(p.To) {
				continue
			}
			all = append(all, Place{m, one.Name, float64(x(unix(m.Time))) / s.W, 1 - float64(y(m.Value))/s.H})
		}
	}
	slices.SortStableFunc(all, func(a, b Place) int { return cmp.Or(a.Time.Compare(b.Time), cmp.Compare(a.Series, b.Series)) })
	newest := all[:0]
	for i, one := range all {
		if i+1 < len(all) && int(all[i+1].X*s.W) == int(one.X*s.W) {
			continue
		}
		newest = append(newest, one)
	}
	return newest
}
