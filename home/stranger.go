package home

import (
	"slices"
	"time"
)

// NamedCat is a cat as readings of one source name it.
type NamedCat struct {
	Cat, Source string
	Count       int64
	Last        time.Time // time of the newest of them
}

// StrangerFor is for how long it is told of somebody who is heard of no more: a scale that
// was taken down, or a cat that was taken off the household, is no news for ever.
const StrangerFor = 30 * 24 * time.Hour

// Strangers are those of sources and of the cats of named that h does not know, and that
// were heard of lately. Their readings are taken like all others.
func (h Household) Strangers(sources []SourceStatus, named []NamedCat, now time.Time) (scales []SourceStatus, cats []NamedCat) {
	scales = slices.DeleteFunc(slices.Clone(sources), func(s SourceStatus) bool {
		_, lives := h.Scale(s.Source)
		return lives || s.Source == Hand || s.Source == Clinic || now.Sub(s.Arrived) > StrangerFor
	})
	cats = slices.DeleteFunc(slices.Clone(named), func(n NamedCat) bool {
		_, lives := h.Cat(n.Cat)
		return lives || now.Sub(n.Last) > StrangerFor
	})
	return scales, cats
}
